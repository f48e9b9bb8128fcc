-- Only these settings bear on the score; the others touch no kept row.
DROP TRIGGER score_setting_added;
DROP TRIGGER score_setting_gone;
DROP TRIGGER score_setting_changed;
CREATE VIEW scoring_settings(key) AS
VALUES ('time_zone'), ('needless_looks'), ('plates_settled'), ('model_prior');
CREATE TRIGGER score_setting_added AFTER INSERT ON settings WHEN NEW.key IN (SELECT key FROM scoring_settings)
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_setting_gone AFTER DELETE ON settings WHEN OLD.key IN (SELECT key FROM scoring_settings)
BEGIN INSERT INTO score_touched VALUES (NULL); END;
CREATE TRIGGER score_setting_changed AFTER UPDATE ON settings WHEN NEW.key IN (SELECT key FROM scoring_settings)
BEGIN INSERT INTO score_touched VALUES (NULL); END;
