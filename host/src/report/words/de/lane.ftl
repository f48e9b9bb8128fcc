## The lane, as the score sees it
lane-plate_off = Platte { $plate } zeigt { LESS_MORE($error_pct, digits: 1) }, als sie sollte; die Bewertung rechnet es heraus
lane-plate_or_herd = Platte { $plate } zeigt { LESS_MORE($error_pct, digits: 1) }, als sie sollte, und andere Gänge ebenso: mit bekanntem Gewicht prüfen, oder die Herde hat sich geändert
lane-plates_off = mehr als eine Platte zeigt falsch; die Bewertung rechnet es heraus. Den Gang kalibrieren.
    .detail = rechts minus links: vorne { SIGNED($front_split_points, digits: 1) }, hinten { SIGNED($rear_split_points, digits: 1) } Punkte
lane-front_share_moved = alle Kühe tragen vorne { LESS_MORE($change_pct, digits: 1) } ihres Gewichts: Platten mit bekanntem Gewicht prüfen
lane-herd_moves = die ganze Herde bewegt sich anders: Füße { LESS_MORE($stance_time_pct) } Zeit am Boden, Schwanken { LESS_MORE($sway_pct) }; keine Platte erklärt es. Ist der Boden glatt?
lane-plate_wrong = Platte { $plate } zeigt { LESS_MORE($error_pct) }, als sie sollte. Bis das geklärt ist, wird keine Kuh bewertet: den Gang kalibrieren
lane-plates_wrong = die Platten zeigen andere Lasten als bei denselben Kühen vorher: LF { SIGNED($lf_pct) } %, RF { SIGNED($rf_pct) } %, LR { SIGNED($lr_pct) } %, RR { SIGNED($rr_pct) } %. Bis das geklärt ist, wird keine Kuh bewertet: den Gang kalibrieren
lane-plates_swapped = { $swapped ->
    [left_and_right] linke und rechte Platten sind vertauscht
    [front_plates] die beiden vorderen Platten sind vertauscht
    [rear_plates] die beiden hinteren Platten sind vertauscht
   *[front_and_rear] vordere und hintere Platten sind vertauscht
}. Bis das geklärt ist, wird keine Kuh bewertet: die Kabel ansehen
lane-plate_clips = Platte { $plate } zeigt nicht mehr als { NUM($at_kg) } kg, obwohl Kühe sie stärker belasten. Bis das geklärt ist, wird keine Kuh bewertet: Wägezelle und Verstärker ansehen
lane-plate_noisy = die Last auf Platte { $plate } zittert { NUM($times, digits: 1) } mal so stark wie sonst, und auf keiner anderen. Bis das geklärt ist, wird keine Kuh bewertet: Kabel ansehen, und nach Wasser und Schmutz unter der Platte
lane-few_passages = nur { $passages ->
    [one] 1 Durchgang
   *[other] { $passages } Durchgänge
}, sonst { $usual }. War der Gang außer Betrieb?
lane-unusable = { NUM($unusable_pct) } % der Durchgänge sind nicht brauchbar, meist wegen { $commonest } ({ $times })
lane-reader_ahead = die Uhr des Ohrmarken-Lesers geht { NUM($by_s, digits: 1) } s vor der des Gangs; die Namen rechnen es heraus. Die Uhr stellen.
lane-reader_behind = die Uhr des Ohrmarken-Lesers geht { NUM($by_s, digits: 1) } s nach der des Gangs; die Namen rechnen es heraus. Die Uhr stellen.
lane-reader_unsure = die Ohrmarken passen bei keiner Stellung der Leser-Uhr zu den Durchgängen, darum blieb eine Weile alles ohne Namen: Lesegerät und Uhr ansehen
lane-untagged = { NUM($untagged_pct) } % der Durchgänge ohne Ohrmarke: Lesegerät ansehen

## The lane's state
lane-none = Noch kein Gang gehört: `fourplate listen`, `fourplate import capture` oder `fourplate import readings` bringt einen herein.
lane-by-file = Gang { $lane }, aus Dateien: zuletzt am { LONG_DAY($last_day) }, { $passages ->
    [one] ein Durchgang
   *[other] { $passages } Durchgänge
} an diesem Tag; { $unusable } nicht brauchbar, { $unidentified } nicht erkannt
lane-title = Gang { $lane }: zuletzt gehört { $heard ->
    [none] nie über eine Verbindung
   *[other] { $heard }
}, Firmware { $firmware }, { $rate_hz } Hz
lane-column-plate = Platte
lane-column-empty = leer kg
lane-column-noise = zittert kg
lane-all-well = alles gut
level-now = jetzt
level-soon = bald
level-note = Hinweis

## What is wrong with a lane
moment = { $since_time ->
    [none] seit { DAY($since_date) }
   *[other] seit { $since_time }
}
fault-captures_only = nur aus Mitschnitten bekannt; nie über eine Verbindung gehört
fault-silent = nicht gehört { moment }: läuft `fourplate listen`? Dann Kabel und Strom prüfen; das Gerät behält seine Durchgänge so lange
fault-counts_anew = seine Durchgänge werden abgelehnt { moment }: es zählt von vorn, oder zwei Geräte haben dieselbe Nummer. Das Gerät behält sie; ihm eine eigene Nummer geben
fault-plate_saturated = Platte { $plate } am Anschlag: wegnehmen, was darauf liegt, dann Zelle und Kabel prüfen ({ moment }); Durchgänge zählen nicht
fault-plate_stuck = Platte { $plate } zeigt immer denselben Wert: Zelle und Kabel prüfen ({ moment }); Durchgänge zählen nicht
fault-plate_silent = Platte { $plate } liefert nichts: Wandler und Kabel prüfen ({ moment }); Durchgänge zählen nicht
fault-plate_dirty = Platte { $plate } trägt leer { NUM($empty_kg, digits: 1) } kg ({ moment }): oben und unten reinigen
fault-plate_propped_up = Platte { $plate } zeigt leer { NUM($missing_kg, digits: 1) } kg zu wenig ({ moment }): nachsehen, ob etwas sie stützt, dann leer kalibrieren
fault-plate_noisy = Platte { $plate } zittert leer um { NUM($noise_kg, digits: 1) } kg ({ moment }): reibt etwas, ist ein Fuß lose, steht Wasser in der Klemmdose?
fault-readings_lost = { NUM($lost_pct, digits: 1) } % der Messwerte seit dem Start fehlen: Wandler prüfen
fault-passages_given_up = { $count } Durchgänge oder Marken gingen aus Platzmangel verloren, bevor ein Rechner sie nahm: öfter abholen
fault-journal_fills = Speicher zu { $fill_pct } % voll, { $waiting } Einträge warten: abholen, oder nachsehen, warum die Verbindung langsam ist
fault-traces_given_up = { $count } Teile von Kurven gingen aus Platzmangel verloren
fault-broken_messages = { $count } Nachrichten kamen seit dem Start gestört an: Kabel prüfen
fault-bad_tag_lines = { $count } Zeilen des Lesegeräts waren seit dem Start unverständlich
fault-supply_low = Versorgung { NUM($now_v, digits: 1) } V, sonst { NUM($usual_v, digits: 1) } V: Batterie, Lader und Kabel prüfen
fault-restarted = { $times ->
    [one] einmal
   *[other] { $times }-mal
} neu gestartet { moment }, zuletzt, weil { $cause ->
    [supply] die Versorgung einbrach: Strom prüfen
    [hung] es hing: dem Hersteller sagen
   *[broken] sein Programm gestört war: dem Hersteller sagen
}
fault-clock_drift = seine Uhr geht { SIGNED($drift_ppm) } ppm falsch; die Verbindung gleicht es aus
fault-waiting = { $count } Einträge warten, bis ihre Zeit oder der Rest ihrer Kurve bekannt ist
fault-plate_off = Platte { $plate } zeigt { LESS_MORE($error_pct, digits: 1) }, als sie sollte, { moment }: darunter reinigen oder kalibrieren; die Bewertung rechnet es heraus
fault-plate_or_herd = Platte { $plate } zeigt { LESS_MORE($error_pct, digits: 1) }, als sie sollte, { moment }, und andere Gänge ebenso: mit bekanntem Gewicht prüfen, oder die Herde hat sich geändert
fault-herd = die Herde bewegt sich anders

## What a lane can see, and work at the plates
check-title = Gang { $lane }, { LONG_DAY($from) } bis { LONG_DAY($to) }: { $passages ->
    [one] ein Durchgang
   *[other] { $passages } Durchgänge
} von { $cows ->
    [one] einer bekannten Kuh
   *[other] { $cows } bekannten Kühen
}
check-usable = brauchbar: { NUM($pct) } % der Durchgänge
check-identified = mit Namen: { NUM($pct) } %; { NUM($a_day, digits: 1) } Durchgänge je Kuh an einem Tag, an dem sie kommt
check-standing = auf allen vier Platten gestanden: { NUM($pct) } % der brauchbaren Durchgänge{ $seconds ->
    [none] {""}
   *[other] , { NUM($seconds, digits: 1) } s lang
}
check-column-measure = Maß
check-column-same_day = am selben Tag
check-column-days_apart = zwischen Tagen
check-column-day_1 = 1 Tag
check-column-day_3 = 3 Tage
check-column-day_7 = 7 Tage
check-column-day_14 = 14 Tage
check-measure-body_weight = Gewicht, kg
check-measure-front_share = Vorderbein stehend, %
check-measure-rear_share = Hinterbein stehend, %
check-measure-front_peak = Vorderbein gehend, %
check-measure-rear_peak = Hinterbein gehend, %
check-explained = Stehend: % des Gewichts. Gehend: die Spitze, % des Mittels der beiden. Die ersten zwei Spalten: wie weit Durchgänge einer Kuh auseinanderliegen (Standardabweichung). Die anderen: die kleinste Änderung einer Kuh, die so lange nach ihrem Beginn vier von fünf Mal erkannt wird. Tage gelten als unabhängig; eine Kuh, deren Haltung langsam schwankt, verbirgt mehr.
check-none = keine Durchgänge in diesen Tagen
gain-too_few_to_tell = zu wenige Kühe kamen wieder ({ NUM($passages) } brauchbare Durchgänge): in einigen Tagen noch einmal ansehen
gain-more_usable = { NUM($unusable_pct) } % der Durchgänge sind nicht brauchbar, meist: { $commonest } ({ NUM($times) }). Den Strom bremsen, Kühe auseinanderhalten, Platten reinigen
gain-more_named = { NUM($unidentified_pct) } % der Durchgänge haben keinen Namen: Lesegerät und seinen Platz prüfen
gain-more_standing = nur { NUM($standing_pct) } % der brauchbaren Durchgänge enthalten ein Stehen: etwas, das sie einige Sekunden stehen lässt, zeigte mehr
gain-longer_standing = sie steht { NUM($seconds, digits: 1) } s, und { NUM($from_sway_pct) } % der Streuung eines Tages sind ihr Schwanken in so kurzer Zeit: längeres Stehen zeigte mehr
gain-more_often = die meisten Kühe kommen einmal am Tag: ein zweiter Durchgang am Tag zeigte mehr
gain-nothing_to_gain = nichts fällt auf: was streut, sind die Kühe selbst
quality-two_animals = zwei Tiere auf den Platten
quality-foot_across = ein Fuß auf zwei Platten
quality-no_stance = kein Stehen
quality-too_short = zu kurz
quality-backed_out = rückwärts hinaus
quality-saturated = eine Wägezelle am Anschlag
quality-lost_readings = Messwerte verloren
quality-ringing = schwingende Platten
quality-too_light = zu leicht für eine Kuh
quality-stuck_plate = eine klemmende Platte
quality-cut_off = abgeschnitten
quality-zero_unsure = unsicherer Nullpunkt
quality-feet_unsure = Füße nicht zu unterscheiden
quality-implausible = Werte, die keine Kuh hat
step-ask-weight = Bekanntes Gewicht, kg
step-clean = Platten reinigen. Nichts und niemand darauf oder daran gelehnt
step-known-weight = { $kg } kg auf die Mitte von Platte { $plate } legen, nichts auf die anderen
step-corner = Prüfung (darf entfallen): dasselbe Gewicht auf eine äußere Ecke von Platte { $plate }
step-finish = Gewicht herunternehmen. Die neue Kalibrierung in Kraft setzen?
step-verify = { $kg } kg auf { $place ->
    [corner] eine äußere Ecke
   *[other] die Mitte
} von Platte { $plate } legen, nichts auf die anderen
step-given-up = Abgebrochen: die alte Kalibrierung bleibt in Kraft.
step-in-force = Die neue Kalibrierung ist in Kraft; das Gerät beginnt mit ihr von vorn.
step-needed = Dieser Schritt kann nicht entfallen.
step-busy = Das Gerät hält für ein Tier, was auf den Platten liegt. Räumen, einen Augenblick warten.
step-answer-done = Fertig
step-answer-skip = Auslassen
step-answer-stop = Aufhören
step-checked = { $right ->
    [yes] Richtig: { NUM($shown, digits: 2) } kg angezeigt für { $kg } kg.
   *[no] { NUM($shown, digits: 2) } kg angezeigt für { $kg } kg: zu weit daneben. Nachsehen, ob die Platte frei auf allen Zellen liegt, dann von vorn.
}
step-outcome-accepted = Angenommen.
step-outcome-not_steady = Es war unruhig. Nachsehen, dass niemand die Platten berührt und nichts schwingt; den Wind abwarten.
step-outcome-wrong_load = Andere Last als gesagt: das Gewicht liegt auf einer anderen Platte, zwei Kabel sind vertauscht, die Platten sind nicht leer, oder das Gewicht ist nicht von 20 bis 1.000 kg.
step-outcome-bad_channel = Eine Platte ist am Anschlag oder gibt keine Messwerte: Last herunternehmen, dann Zelle und Kabel prüfen.
step-outcome-out_of_order = Ein Schritt davor fehlt; das Gerät hat vielleicht neu begonnen. Von vorn beginnen.
step-outcome-bad_result = Die Platten sind nicht zu unterscheiden, oder ein Ergebnis liegt außerhalb. Von vorn beginnen.
step-outcome-not_stored = Das Gerät konnte es nicht aufschreiben: die alte Kalibrierung bleibt. Sein Speicher ist vielleicht abgenutzt.
step-outcome-aborted = Abgebrochen: die alte Kalibrierung bleibt in Kraft.
step-column-plate = Platte
step-column-place = wo
step-column-shown = angezeigt kg
step-column-error = Fehler kg
step-column-limit = Grenze kg
step-column-within = innerhalb
step-middle = Mitte
step-corner-place = Ecke
step-within = ja
step-beyond = nein
step-limits = Grenzen: OIML R 76-1, Klasse III, Teilung 1 kg, bei der ersten Eichung; im Betrieb das Doppelte. Ein Gang ist trotzdem keine Handelswaage.
step-paired = Gekoppelt: Gerät { $device } hört von nun an nur diesen Speicher, und über ein Netz wird in seinem Namen nichts anderes geglaubt. Der Schlüssel liegt im Speicher und seinen Sicherungen; ein Speicher ohne ihn kann nicht mit dem Gerät reden.
step-not-paired = Gerät { $device } ist nicht gekoppelt: am Kabel kann jeder es lesen, über ein Netz wird ihm nicht geglaubt.
program-cautions = Nur zwischen zwei Melkzeiten: während das Gerät neu startet, wird kein Durchgang gewogen, und ein Tor hinter dem Gang ruht. Den Strom anlassen.
program-cow = Eine Kuh steht auf den Platten: es geht weiter, wenn sie fort ist.
program-starts = Alles ist da. Das Gerät startet mit dem neuen Programm und probiert es aus; das kann eine Minute dauern.
program-up = Gerät { $device } läuft mit Version { $version } und behält sie.
program-fell-back = Das neue Programm kam nicht in Gang. Gerät { $device } läuft wieder mit Version { $version }, wie vorher.
program-on-trial = Gerät { $device } läuft zur Probe mit Version { $version }, aber seine Platten geben keine Messwerte. Wenn sie das nicht innerhalb von zehn Minuten nach dem Start tun, kommt das vorige Programm zurück.
page-live = Beim Hinausgehen
page-live-again = Noch einmal ansehen
page-live-time = Zeit
page-live-cow = Kuh
page-live-said = bisher heute, an ihr selbst gemessen
page-live-none = Noch ist keine Kuh durchgekommen.
page-live-note = Vorläufig: es gilt die Liste des Tages.
live-nobody = nicht erkannt oder noch nicht beurteilt
live-unknown = ?
live-not-usable = nicht brauchbar: { $commonest }
live-at-the-lane = { $cow }, nach diesem Durchgang allein: { $said }
live-title = { $time } { $cow }: { $said }
step-caution-cattle = Den Gang an beiden Enden schließen und nachsehen, dass kein Tier herankommt. Nie auf den Platten stehen oder Gewichte auflegen, solange Rinder im Gang oder hinter einem sind; jemanden dabeihaben, und einen Ausweg.
step-caution-mains = Auf der Seite der Kleinspannung bleiben. Keine Netzversorgung öffnen; ist Wasser in einem Kasten, abschalten und den Elektriker rufen.
step-caution-lift = Zu zweit heben oder eine Karre nehmen. Gewichte sanft absetzen: ein fallendes zerbricht Zellen und Füße.
step-caution-trade = Ein kalibrierter Gang ist trotzdem keine Handelswaage.
step-safe = Kein Tier kommt an die Platten, und jemand ist bei mir
step-begin = Sauber und leer: beginnen
step-give-up = Abbrechen: die alte Kalibrierung behalten
step-waits = Das Gerät misst: einige Sekunden nichts berühren.
step-skipped = Ausgelassen.
step-no-answer = Das Gerät hat nicht geantwortet. Nachsehen, ob es verbunden ist und `fourplate listen` dafür läuft, dann diesen Schritt noch einmal.
step-cautions = Bevor Sie an die Platten gehen:
gate-title = Zurückgehalten am { LONG_DAY($date) } von { $from } bis { $until }, höchstens { $most }
gate-no-hours = Niemand wird zurückgehalten: der Hof hat keine Zeiten genannt (fourplate farm gate_hours=05:00-09:00). Es wären:
gate-cow = { $cow }: { $reasons }{ $why ->
    [none] {""}
   *[other] , { $why }
}{ $tag ->
    [yes] {""}
   *[no] ; keine Marke mit 15 Ziffern: kein Tor erkennt sie
}
gate-nobody = Niemand ist zurückzuhalten.
gate-state = Gang { $lane }: { $heard ->
    [none] von seinem Tor ist nichts bekannt
   *[other] um { $heard } { $gate ->
        [yes] hatte sein Tor { $force ->
            [yes] eine gültige Liste von { $listed }
           *[no] Ruhe
        }
       *[no] hatte er kein Tor
    }{ $table ->
        [yes] ; er beurteilt Kühe beim Hinausgehen
       *[no] {""}
    }
}
gate-came = Am Tor
gate-event = { $time } { $cow }: { $outcome }
gate-reason-hand = von Hand
gate-reason-urgent = dringend
gate-reason-dressing = Verband ab
gate-reason-recheck = Fuß noch einmal ansehen
gate-reason-booked = für den Klauenpfleger vorgemerkt
gate-outcome-held = zurückgehalten
gate-outcome-held_before = vorbeigelassen: in dieser Zeit schon zurückgehalten
gate-outcome-enough = vorbeigelassen: so viele wie gewollt sind zurückgehalten
gate-outcome-not_confirmed = vorbeigelassen: das Gerät war eben gestartet und wartete auf diesen Rechner
gate-outcome-over = vorbeigelassen: die Zeit war vorüber
gate-outcome-host_silent = vorbeigelassen: dieser Rechner war zu lange nicht zu hören
gate-outcome-clock_unsure = vorbeigelassen: die Uhren von Gerät und Rechner stimmten nicht mehr überein
gate-outcome-reader_silent = vorbeigelassen: der Markenleser hatte mehrere Kühe vor ihr verpasst
gate-outcome-name_unsure = vorbeigelassen: eine andere Marke wurde mit ihrer gelesen
gate-outcome-two_on_deck = vorbeigelassen: mehr als ein Tier auf den Platten
gate-outcome-first_plates = vorbeigelassen: jemand stand auf den ersten Platten
gate-outcome-plates_unsure = vorbeigelassen: die Platten lasen nichts oder nichts Sicheres
gate-outcome-busy = vorbeigelassen: das Tor war noch für die Kuh vor ihr bewegt
gate-outcome-stopped = vorbeigelassen: der Halt-Eingang war offen
gate-outcome-not_kept = vorbeigelassen: das Gerät konnte es nicht aufschreiben
gate-held = { $cow } wird am Tor zurückgehalten bis { LONG_DAY($date) }.
gate-held-no-hours = Der Hof hat keine Zeiten genannt, also bewegt sich noch kein Tor: fourplate farm gate_hours=05:00-09:00.
gate-released = { $cow } wird nicht mehr von Hand zurückgehalten.
gate-not-held = { $cow } wurde nicht von Hand zurückgehalten.
gate-set = Gerät { $device } bewegt ein Tor.
gate-none = Gerät { $device } bewegt kein Tor.
caution-gate = Ein Tor, das sich bewegt, verletzt Rinder und Menschen. Niemand steht in seinem Weg, der Halt ist in Reichweite dessen, der dort arbeitet, und Schutz und Verriegelung sind Sache des Einbauers und der örtlichen Regeln.
