## Fälle, wie am Stand eingetragen und gezeigt
field-date = Tag der Arbeit
field-animal_id = Kuh
field-leg = Bein
field-claw = Klaue
field-lesion = Befund
field-zone = Zone
field-treatment = Behandlung
field-block_claw = Klotz unter
field-note = Notiz
field-dd_stage = Stadium
field-severity = Schwere
field-block_material = Klotz aus
field-block_height_mm = Höhe des Klotzes, mm
field-block_due = Klotz ab fällig
field-block_off = Klotz ab seit
field-pain_relief = Schmerzmittel
field-prescribed_by = verschrieben von
field-milk_withdrawal_end = keine Milch bis mit
field-meat_withdrawal_end = kein Fleisch bis mit
field-photo = Foto
field-recheck = Nachkontrolle
field-who = wer
field-other = außerdem
field-withdrawn = zurückgezogen
case-column-case = Fall
case-column-date = Tag
case-column-cow = Kuh
case-column-foot = Fuß
case-column-lesion = Befund
case-column-done = Getan
case-column-block = Klotz
case-block-off = ab { $date }
case-block-due = fällig { $date }
case-withdrawn = zurückgezogen
case-withdrawn-why = Zurückgezogen: { $why }
case-own-scale = {" "}von 3 (eigene Skala von fourplate)
case-worn = Klotz abgelaufen
case-look = { $date } angesehen: { $seen }
case-correction = { $time } { $who }: { $field } war "{ $was }", jetzt "{ $is }"
case-slip = Vertan? fourplate case correct { $case } FIELD=VALUE
case-no-longer = Fall { $case } zählt nicht mehr; er bleibt aufgehoben.
case-counts = Fall { $case } war nicht zurückgezogen; er zählt.
case-counts-again = Fall { $case } zählt wieder; die Rücknahme bleibt in seiner Geschichte.
case-correct-already = Nichts zu berichtigen: es steht schon so da.
look-entered = Fall { $case }, Kuh { $animal }: Nachschau vom { $date } eingetragen.
look-block-lost = Die kranke Klaue trägt wieder: ein neuer Klotz ist ein neuer Fall.
caution-worse = Vorsicht: Ein Fuß, der nach der Behandlung schlechter wird, ist Sache des Tierarztes.
caution-veterinarian = Vorsicht: Tierarzt rufen. Phlegmone, eine Schwellung über der Klaue, offenes tiefes Gewebe oder ein Bein ohne Last sind nicht für den Klauenpfleger allein.
caution-glue = Vorsicht: Klotzkleber kann Isocyanate enthalten: Handschuhe, Luft, Etikett lesen. Den Klotz rechtzeitig abnehmen.
caution-withdrawal = Vorsicht: Wartezeiten für Milch und Fleisch sind nicht beide eingetragen; Etikett oder Tierarzt nennen sie.
entry-refused = Nicht eingetragen: { $what }.
entry-note = Hinweis: { $what }.
entry-odd = Ungewöhnlich: { $what }. Trotzdem eintragen?
entry-say-yes = Nicht eingetragen: { $what }. Mit --yes, wenn es so ist.
entry-missing = Nicht eingetragen: es fehlt { $what }.
entry-not-corrected = Nicht berichtigt: { $what }.
entry-taken-in = Zeile { $line }: { $what }; so übernommen
entry-there = Das ist schon eingetragen.
missing-leg = das Bein (all: von keinem etwas zu sagen)
missing-claw = die Klaue und der Befund (none: kein Befund)
missing-lesion = der Befund (none: kein Befund)
ask-leg = Bein: LF (VL) RF (VR) LR (HL) RR (HR) (leer: alle Füße, kein Befund)
ask-lesion = Befund: Kürzel oder eigene Worte (?: Kürzel, leer: keiner)
ask-codes-else = Alles andere in mehr Buchstaben.
ask-claw = Klaue: o außen, i innen, b beide
ask-zone = Zone 0 bis 12 (leer: nicht notiert)
ask-stage = Stadium: M0 M1 M2 M3 M4 M4.1 (leer: nicht notiert)
ask-done = Außerdem: h loses Horn weg, d eröffnet, w Verband (leer: nur geschnitten)
ask-block = Klotz unter der { $claw ->
    [inner] inneren
   *[outer] äußeren
} Klaue: Höhe in mm (0: nicht gemessen, leer: kein Klotz)
ask-pain_relief = Schmerzmittel: wer hat es verschrieben (leer: keines gegeben)
ask-milk_withdrawal_end = Letzter Tag der Wartezeit Milch, JJJJ-MM-TT, vom Etikett (leer: noch nicht bekannt)
ask-meat_withdrawal_end = Letzter Tag der Wartezeit Fleisch, JJJJ-MM-TT, vom Etikett (leer: noch nicht bekannt)
ask-seen-block = Klotz: on dran, lost verloren, off jetzt abgenommen (leer: nicht angesehen)
ask-seen-height = Höhe jetzt, mm (leer: nicht gemessen)
ask-seen-course = Fuß: h geheilt, i besser, s gleich, w schlechter (leer: nicht angesehen)

## Der Besuch
visit-question-mark = ? zeigt, was man schreiben kann.
visit-nobody-named = Kein Klauenpfleger genannt: visit --who NAME.
visit-which-cow = Kuh
visit-unknown-cow = Hier ist keine Kuh { $cow } bekannt; { $cow }! hebt auf, was Sie sagen, bis sie es ist.
visit-odd = Ungewöhnlich: { $what }. Dieselbe Zeile mit ! am Ende, wenn es so ist.
visit-no-case = Nicht eingetragen: an { $leg } ist kein Fall von ihr bekannt.
visit-nothing-yet = In diesem Besuch ist noch nichts eingetragen.
visit-nothing-more = In diesem Besuch ist sonst nichts eingetragen.
visit-corrected = Berichtigt: { $summary }
visit-look-undone = Diese Nachschau zählt nicht mehr.
visit-help = Eine Zeile ist ein Fuß: Bein, Klaue, Befund, was getan wurde.
    {"  "}lro wla dbi      LR (HL) außen, Abszess der weißen Linie; eröffnet, Klotz innen
    {"  "}rr i su 4 bo 20mm s2     Sohlengeschwür in Zone 4, Klotz 20 mm, Schwere 2 von 3
    {"  "}lf none          kein Befund; all: alle Füße geschnitten, sonst nichts
    {"  "}'eigene Worte' in Anführungszeichen: Befund ohne Kürzel, oder danach eine Notiz
    Getan: h loses Horn weg, d eröffnet, w Verband, bo bi b Klotz. Auch FELD=WERT.
    Nachschau: lr on 12mm same, lr off healed (Klotz on dran, lost verloren, off ab;
    {"  "}healed geheilt, improving besser, same gleich, worse schlechter).
    Leere Zeile: nächste Kuh. back, undo, correct FELD=WERT, sheet, codes, end.
    ! am Ende einer Zeile: es ist ungewöhnlich und doch so.

## Ein Vermerk
mark-died = Verendet
mark-lent = Weg
mark-told = Gemeldet von anderem Programm
mark-back = Zurück
marked = { $animal }: { $mark }, { $date }.
marked-already = { $animal }: { $mark } war für { $date } schon vermerkt.
mark-taken-away = { $animal }: { $mark } am { $date } gilt nicht mehr.
mark-not-there = { $animal }: { $mark } war für { $date } nicht vermerkt; nichts wurde weggenommen.

## Wie Fälle ausgingen
outcomes-group = { $cases ->
    [one] 1 Fall
   *[other] { $cases } Fälle
}, { $measured } trugen vorher sichtbar weniger
outcomes-back = wieder normal bis Tag { $day }: { $back } von { $of }{ $part }
outcomes-part = {" "}= { NUM($part) } % ({ NUM($low) } bis { NUM($high) })
outcomes-others = alle anderen bis Tag { $day }: { $back } von { $of }{ $odds }, p nach Fisher { $p }
outcomes-odds = , Chancenverhältnis { NUM($odds, digits: 1) } ({ NUM($low, digits: 1) } bis { NUM($high, digits: 1) })
outcomes-half = die Hälfte war bis Tag { NUM($days) } wieder normal
outcomes-relapses = Rückfälle: { $count }
outcomes-lane-first = von den Platten vor einem Menschen gemeldet: { $first } von { $recorded }{ $gained }
outcomes-gained = , im Median { NUM($days) } Tage früher
outcomes-not-back = Tag { NUM($day) }: noch nicht wieder normal { $part } ({ $low } bis { $high }), { $watched } beobachtet
outcomes-block-kept = Tag { NUM($day) }: Klotz noch dran { $part } ({ $low } bis { $high }), { $watched } beobachtet
outcomes-none = Noch keine Fälle.
outcomes-trials = Veröffentlichte Versuche, nur zum Vergleich (andere Kühe, anderes Maß für Heilung):
outcomes-trial-new = Frisch lahm, Hornschäden, Note 0 am Tag 35: Schnitt 11/45, mit Klotz 14/39, mit Schmerzmittel 12/42, mit beidem 23/41 (Thomas 2015, J Dairy Sci). Zählt man mildere Noten als geheilt, steigt der Schnitt allein von 24 auf 69 %.
outcomes-trial-old = Länger als zwei Wochen lahm, nicht lahm am Tag 42: 15, 15 und 16 %, was auch getan wurde; 38 % lahmten am anderen Bein des Paars (Thomas 2016, Vet Rec 178:116).
outcomes-trial-first = Erste Laktation, Tag 28: 15/20 mit Schnitt, Klotz und Schmerzmittel, 6/15 mit Schnitt allein (Sadiq 2022, Front Vet Sci).
outcomes-caution = Das sind Zählungen dessen, was geschah, nicht dessen, was eine Behandlung bewirkt: wer welche bekam, war nicht gelost.
change-title = Last des behandelten Beins, % vom Üblichen, nachher weniger vorher (Wirkung des Klotzes abgezogen; Kühe mit mehreren Fällen zählen einmal)
change-group = { $cases ->
    [one] 1 Fall
   *[other] { $cases } Fälle
} von { $cows ->
    [one] 1 Kuh
   *[other] { $cows } Kühen
}
change-line = { SIGNED($change_pct, digits: 1) } ({ SIGNED($low, digits: 1) } bis { SIGNED($high, digits: 1) }); bei einer Kuh ab { NUM($detectable_pct) } zu sagen
change-none = Noch kein Fall hat Durchgänge danach.

## Bewerten
rescore-none = Keine Durchgänge zu bewerten. Messwerte oder Durchgänge mit `fourplate import` hereinholen.
rescore-done = { NUM($rows) } Kuhtage bewertet, der letzte am { $last_day }.
rescore-day = An dem Tag: { $urgent } dringend, { $check } ansehen, { $watch } beobachten, { $clear } in Ordnung, { $cannot_tell } unklar, { $no_data } keine Daten.
rescore-learned = Die Wahrscheinlichkeiten beruhen auf { $scores_learned_from } Noten des Betriebs und { $lifted_feet_learned_from } Kühen mit angesehenen Füßen (Gewicht { NUM($farm_link_weight, digits: 2) } gegen die veröffentlichten Zahlen).

## Was gegen einen Eintrag spricht
against-work_in_future = der Tag der Arbeit liegt in der Zukunft
against-block_on_sore_claw = der Klotz ist an der kranken Klaue; er gehört unter die gesunde
against-block_on_other_lesion = der Klotz ist an einer Klaue mit einem anderen Befund vom selben Tag
against-lesion_without_leg = zu einem Befund gehört sein Bein
against-block_without_leg = zu einem Klotz gehört sein Bein
against-recheck_not_after = die Nachkontrolle liegt nicht nach der Arbeit
against-block_due_before = der Klotz soll ab, bevor er dran war
against-block_off_before = der Klotz war ab, bevor er dran war
against-block_off_in_future = der Klotz war in der Zukunft ab; der fällige Tag heißt block_due
against-stage_without_dermatitis = ein M-Stadium gehört zur Mortellaro-Krankheit (DD)
against-withdrawal_before = eine Wartezeit endet vor der Behandlung
against-look_in_future = der Tag der Nachschau liegt in der Zukunft
against-look_before = die Nachschau liegt vor der Behandlung
against-case_withdrawn = dieser Fall wurde zurückgezogen
against-nothing_told = nichts gesagt: Klotz, seine Höhe, Verlauf oder eine Notiz
against-no_block_here = in diesem Fall kam kein Klotz dran
against-leg_or_lesion_missing = das Bein sagen, und den Befund oder dass es keinen gibt
against-claw_missing = sagen, an welcher Klaue der Befund ist
against-field_wrong = { $field }: "{ $text }" kann nicht sein
against-entered_already = derselbe Fuß mit Klaue, Zone und Befund ist für diesen Tag schon eingetragen
against-block_still_on = dieser Fuß hat noch einen Klotz
against-no_code = "{ $text }" ist kein Kürzel eines Befunds{ $code ->
    [none] {""}
   *[other] ; { $code } ist { $lesion }
}
against-unusual_zone = { $lesion } in Zone { $zone } ist ungewöhnlich
against-block_for_veterinarian = ein Klotz an einem Fuß, der Sache des Tierarztes ist (Phlegmone, Schwellung über der Klaue oder schwer)
against-withdrawal_missing = ein Medikament wurde gegeben, aber nicht, bis wann { $milk ->
    [yes] { $meat ->
        [yes] Milch und Fleisch
       *[no] Milch
    }
   *[no] Fleisch
} nicht hinaus darf; das sagt das Etikett oder der Tierarzt
against-prescriber_missing = Schmerzmittel wurde gegeben, aber nicht, wer es verschrieben hat
against-unusual_block = ein Klotz von { NUM($height_mm) } mm ist ungewöhnlich
against-long_ago = { LONG_DAY($date) } ist lange her
against-zone_without_lesion = eine Zone ohne Befund
against-block_grown = der Klotz ist von { NUM($before_mm) } auf { NUM($now_mm) } mm gewachsen
against-block_entered_off = der Klotz ist als ab eingetragen, seit { LONG_DAY($date) }
against-unknown_cow = hier ist keine Kuh { $cow } bekannt; es bleibt aufgehoben und zählt, sobald sie genannt ist
