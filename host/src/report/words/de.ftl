### Deutsch. Felder wie in `en.ftl`.

## Forms
months = Jan. Feb. März Apr. Mai Juni Juli Aug. Sep. Okt. Nov. Dez.
weekdays = Mo Di Mi Do Fr Sa So
form-day = D. M
form-long_day = W, D. M Y
form-decimal = ,
form-less = weniger
form-more = mehr
form-same = gleich viel
form-than_usual = als sonst
form-as_usual = so viel wie sonst
form-under = unter 1 %
form-over = über 99 %

## Legs, flags
leg-LF = VL
leg-RF = VR
leg-LR = HL
leg-RR = HR
leg-LF-name = vorne links
leg-RF-name = vorne rechts
leg-LR-name = hinten links
leg-RR-name = hinten rechts
place-both_front = beide Vorderbeine
place-both_rear = beide Hinterbeine
place-unclear = Bein unklar
flag-no_data = keine Daten
flag-cannot_tell = unklar
flag-clear = in Ordnung
flag-watch = beobachten
flag-check = ansehen
flag-urgent = DRINGEND
confidence-low = gering
confidence-fair = mittel
confidence-high = hoch
number-0 = { NUM($value, digits: 0) }
number-1 = { NUM($value, digits: 1) }
number-2 = { NUM($value, digits: 2) }
percent = { PERCENT($probability) }
day = { DAY($date) }
long-day = { LONG_DAY($date) }

## Counts
days = { $count ->
    [one] 1 Tag
   *[other] { $count } Tage
}
since-unclear = seit wann, ist unklar
since = seit { DAY($day) }, { $days ->
    [0] heute
    [one] 1 Tag
   *[other] { $days } Tage
}
since-between = seit { DAY($day) } (zwischen { DAY($earliest) } und { DAY($latest) }), { $days ->
    [0] heute
    [one] 1 Tag
   *[other] { $days } Tage
}

## Why a cow has her flag
reason-no_trusted_passage = bisher kein brauchbarer Durchgang
reason-not_seen = { $days ->
    [one] seit gestern
   *[other] seit { $days } Tagen
} nicht gesehen
reason-set_aside_by_weight = { $passages ->
    [one] 1 Durchgang unter ihrer Marke zählt nicht: { NUM($seen_kg) } kg
   *[other] { $passages } Durchgänge unter ihrer Marke zählen nicht: { NUM($seen_kg) } kg
}, sie wiegt aber { NUM($usual_kg) } kg. Wessen Marke war das?
reason-set_aside_by_loads = { $passages ->
    [one] 1 Durchgang unter ihrer Marke zählt nicht: die Lasten passen
   *[other] { $passages } Durchgänge unter ihrer Marke zählen nicht: die Lasten passen
} an keinem Bein zu ihr. Wessen Marke war das?
reason-tags_swapped = sie und { $with } tragen offenbar die Marke der anderen
reason-block_on = { $leg ->
    [none] ein Bein
   *[other] { $leg }
} hat { $days ->
    [0] seit heute
    [one] seit 1 Tag
   *[other] seit { $days } Tagen
} einen Klotz. Schon der Klotz verschiebt Last, darum wird dieses Paar nicht beurteilt.
reason-foot_work = { $days ->
    [0] heute
    [one] gestern
   *[other] vor { $days } Tagen
} an den Klauen gearbeitet: noch nicht eingelaufen
reason-share_low = entlastet { $leg }: trägt { NUM($now_pct, digits: 1) } % ihres Gewichts, sonst { NUM($usual_pct, digits: 1) } %
    .detail = { NUM($sd, digits: 1) } SD
reason-front_share = Vorderbeine tragen { NUM($now_pct, digits: 1) } % ihres Gewichts, sonst { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-peak_low = tritt beim Gehen mit { $leg } leichter auf: gegen { $other } { LESS_MORE($now_pct) }, sonst { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-front_peaks = Vorderbeine tragen beim Gehen { NUM($now_pct, digits: 1) } % ihrer Last, sonst { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-time_short = lässt { $leg } kürzer am Boden: gegen { $other } { LESS_MORE($now_pct) }, sonst { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-sway = schwankt auf den { $pair ->
    [Front] Vorderbeinen
   *[Rear] Hinterbeinen
} { THAN_USUAL($change_pct) }
    .detail = { SIGNED($sd, digits: 1) } SD
reason-pace = lässt die Füße { THAN_USUAL($change_pct) } am Boden
    .detail = { SIGNED($sd, digits: 1) } SD
reason-shifts = verlagert ihr Gewicht { NUM($now_per_minute, digits: 1) }-mal in der Minute, sonst { NUM($usual_per_minute, digits: 1) }
reason-lifts = hebt { NUM($now_per_minute, digits: 1) }-mal in der Minute ein Bein, sonst { NUM($usual_per_minute, digits: 1) }
reason-drift = { $pair ->
    [Front] Vorderbeine
   *[Rear] Hinterbeine
} seit Tagen ungleicher belastet, als es bei ihr üblich ist
    .detail = EWMA { SIGNED($value_sd, digits: 1) } SD, Grenze { NUM($limit_sd, digits: 1) }
reason-several_small = mehrere kleine Änderungen zugleich
reason-as_when_sound = Lasten wie in gesunden Tagen

## Treated cows
reason-block_end_not_reported = { $leg ->
    [none] ein Klotz
   *[other] der Klotz an { $leg }
} sollte { $days ->
    [0] heute
    [one] gestern
   *[other] vor { $days } Tagen
} ab. Ist er noch dran? Bis dahin wird dieses Paar nicht beurteilt.
reason-more_than_treatment = { $leg ->
    [none] sie entlastet weit mehr
   *[other] { $leg } verliert weit mehr Last
}, als ein Klotz oder die Klauenpflege erklärt. Heute den Tierarzt rufen.
advice-say_block = eintragen, ob der Klotz ab ist
advice-call_vet = heute die Füße ansehen, mit dem Tierarzt
course-block_end_not_reported = der Klotz an { $leg } sollte am { DAY($due) } ab. Ist er noch dran?
look_for-block_still_on = ist der Klotz noch dran? abnehmen und eintragen

## What would settle it
advice-tagged_passage = ein Durchgang mit gelesener Marke
advice-read_tag = ihre Marke von Hand ablesen
advice-read_tags = ihre Marke und die von { $with } von Hand ablesen
advice-recheck_foot = den behandelten Fuß ansehen; die Lasten sagen erst ohne Klotz wieder etwas
advice-wait_after_foot_work = ein bis zwei Wochen nach der Klauenpflege wieder hinsehen
advice-more_passages = noch { $passages } Durchgänge oder eine Gangnote nach Augenschein: was bei ihr üblich ist, ist noch nicht bekannt
advice-lift_pair = beide Füße des Paars aufheben
advice-lift_foot = den Fuß aufheben
advice-next_days = die Durchgänge der nächsten zwei Tage oder eine Gangnote nach Augenschein

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

## How a case is going
verdict-as_expected = wie erwartet
verdict-slower_than_expected = langsamer als erwartet
verdict-worse = schlechter
verdict-another_leg_now = jetzt ein anderes Bein
verdict-block_probably_lost = Klotz wohl verloren
verdict-cannot_tell_yet = noch nicht zu sagen
course-too_early = die ersten { $days } Tage nach der Arbeit werden nicht beurteilt
course-few_passages = weniger als { $passages } Durchgänge, seit sie eingelaufen ist
course-no_leg_low = kein Bein war vorher deutlich entlastet, und jetzt ist es keines
course-other_leg_lower = { $leg } trägt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) }), { $treated } { LESS_MORE($treated_now_pct) }
course-sudden_step = die Last von { $leg } hat sich am { DAY($since) } plötzlich geändert, obwohl der Klotz noch sitzen sollte; auch den anderen Fuß ansehen
course-less_than_before = { $leg } trägt jetzt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) }); vor der Arbeit { LESS_MORE($before_pct) }
course-carries = { $leg } trägt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) })
course-carries_other_low = { $leg } trägt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) }), aber { $other } kann jetzt schmerzen
course-carries_restless = { $leg } trägt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) }), aber sie verlagert ihr Gewicht öfter als in gesunden Tagen: beide Füße können schmerzen
course-carries_blocked = { $leg } trägt { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } bis { LESS_MORE($now_high_pct) }); wie viel davon der Klotz macht, ist nicht bekannt

## Rechecks
recheck-planned = wie geplant
recheck-usual_time = { $days } Tage nach der Arbeit
recheck-block_time = { $days } Tage getragen
recheck-dressing_time = ein Verband kommt nach { $days } Tagen ab
recheck-early_block_look = ein Klotz wird vom { $from }. bis { $to }. Tag angesehen
recheck-seen_worse = am { DAY($date) } schlechter: neu behandeln oder Tierarzt
recheck-seen_same = am { DAY($date) } unverändert
recheck-block_wear = nach dem bisherigen Abrieb, zwischen { DAY($earliest) } und { DAY($latest) }
recheck-course = Verlauf des Falls
look_for-lesion = { $claw ->
    [outer] Außenklaue:{" "}
    [inner] Innenklaue:{" "}
    [both] beide Klauen:{" "}
   *[none] {""}
}{ $lesion }{ $zone ->
    [none] {""}
   *[other] {" "}in Zone { $zone }
}
look_for-block_height = Klotz noch dran, Höhe
look_for-block_off = Klotz abnehmen
look_for-block_worn = Klotz durchgelaufen: abnehmen
look_for-dressing_off = Verband ab
look_for-other_foot = auch den anderen Fuß
look_for-veterinarian = den Tierarzt rufen, wenn ihn keiner gesehen hat

## Many cases
group-few_cows = weniger als { $cows } Kühe: zu wenige, um etwas über die Gruppe zu sagen
group-more = das behandelte Bein trug nachher { ABS($change_pct) } % mehr von seiner üblichen Last als vorher ({ LESS_MORE($change_low_pct) } bis { LESS_MORE($change_high_pct) }); ohne unbehandelte Kühe daneben sagt das nicht, warum
group-less = das behandelte Bein trug nachher { ABS($change_pct) } % weniger von seiner üblichen Last als vorher ({ LESS_MORE($change_low_pct) } bis { LESS_MORE($change_high_pct) }); ohne unbehandelte Kühe daneben sagt das nicht, warum
group-no_change = keine Änderung, die von keiner zu unterscheiden wäre; ohne unbehandelte Kühe daneben sagt das nicht, warum

## Lesions
lesion-AC = Ungleiche Klauen
lesion-BU = Ballengeschwür
lesion-CC = Rollklauen
lesion-CD = Konkave Vorderwand
lesion-DD = Dermatitis digitalis
lesion-DS = Doppelsohle
lesion-HF = Hornspalt
lesion-HFA = Axialer Hornspalt
lesion-HFH = Hornkluft
lesion-HFV = Senkrechter Hornspalt
lesion-HHE = Ballenhornfäule
lesion-ID = Dermatitis interdigitalis
lesion-IH = Zwischenklauenwulst
lesion-IP = Zwischenklauenphlegmone
lesion-SC = Scherenklauen
lesion-SH = Sohlenblutung
lesion-SHC = Umschriebene Sohlenblutung
lesion-SHD = Flächige Sohlenblutung
lesion-SU = Sohlengeschwür
lesion-SW = Schwellung von Kronsaum oder Ballen
lesion-TN = Klauenspitzennekrose
lesion-TS = Dünne Sohle
lesion-TU = Klauenspitzengeschwür
lesion-U = Geschwür
lesion-WL = Erkrankung der weißen Linie
lesion-WLA = Abszess der weißen Linie
lesion-WLF = Defekt der weißen Linie

## Ein Fall in einer Zeile, und das Blatt eines Besuchs
case-no-lesion = kein Befund
case-zone = Zone { $zone }
case-trim = geschnitten
case-horn_removed = loses Horn entfernt
case-drained = eröffnet
case-dressing = Verband
case-block = Klotz{ $claw ->
    [outer] {" "}außen
    [inner] {" "}innen
   *[none] {""}
}
case-looked = angesehen
claw-outer = außen
claw-inner = innen
claw-both = beide
seen-block-on = Klotz noch dran
seen-block-lost = Klotz verloren
seen-block-off = Klotz ab
seen-height = noch { $height } mm
seen-healed = verheilt
seen-improving = besser
seen-same = unverändert
seen-worse = schlechter
visit-title = Besuch am { LONG_DAY($date) }{ $farm ->
    [none] {""}
   *[other] , { $farm }
}{ $who ->
    [none] {""}
   *[other] , { $who }
}
visit-nothing = Für diesen Tag ist nichts eingetragen.
visit-cow = Kuh
visit-foot = Fuß
visit-found = Befund
visit-done = Getan
visit-next = Nachschau
visit-veterinarian = { $animal } { $place }, Fall { $case }: Tierarzt rufen, wenn noch keiner da war.

## What happened on a day
event-calved = gekalbt
event-foot_work = Klauenpflege{ $leg ->
    [none] {""}
   *[other] {" "}{ $leg }
}{ $lesion ->
    [yes] , Befund
   *[no] {""}
}{ $block ->
    [yes] , Klotz drauf
   *[no] {""}
}
event-block_on = Klotz dran
event-block_off = Klotz ab
event-scored = Gangnote { $score }

## The morning list
caution-vet = Heute den Tierarzt rufen für eine Kuh, die ein Bein nicht belastet, nicht mitkommt, oberhalb der Klaue geschwollen ist oder Fieber hat; auch eine lahme Kuh, die nicht besser wird, braucht ihn.
caution-why = Die Liste sagt, welches Bein sie entlastet, nicht warum. Ein Hinweis ist keine Gangnote.
caution-lane = Erst das Vieh aus dem Gang, dann an die Platten; nie allein im Treibgang arbeiten.
list-title = { $farm ->
    [none] {""}
   *[other] { $farm }:{" "}
}Liste nach { LONG_DAY($date) }
list-seen = Gesehen: { $passages ->
    [one] 1 Durchgang
   *[other] { $passages } Durchgänge
}, { $herd ->
    [0] { $cows ->
        [one] 1 Kuh
       *[other] { $cows } Kühe
    }
   *[other] { $cows } von { $herd } Kühen
}; { $unidentified } nicht erkannt, { $unusable } nicht brauchbar.
list-judged = Beurteilt: { $judged ->
    [one] 1 Kuh
   *[other] { $judged } Kühe
}; { $not_judged } nicht zu beurteilen.
list-nothing-title = Nichts anzusehen
list-nothing = { $judged ->
    [one] 1 Kuh wurde beurteilt, und ihre Füße müssen
   *[other] { $judged } Kühe wurden beurteilt, und bei keiner müssen die Füße
} heute nicht angesehen werden.{ $not_judged ->
    [0] {""}
    [one] {" "}Eine Kuh war nicht zu beurteilen und kann lahm sein.
   *[other] {" "}{ $not_judged } Kühe waren nicht zu beurteilen und können lahm sein.
}
list-unknown-title = Nichts zu sagen
list-no-passage = Für diesen Tag ist kein Durchgang gespeichert; keine Kuh war zu beurteilen.
list-none-judged = An diesem Tag war keine Kuh zu beurteilen; das heißt nicht, dass sie gesund sind.
list-check-title = Heute ansehen: { $now }{ $all ->
    [none] {""}
   *[other] {" "}von { $all }
}
list-after = Danach ({ $capacity } am Tag): { $names }
list-lame = lahm: { PERCENT($probability) }
list-no-probability = keine Wahrscheinlichkeit
list-confidence = { $since }; Sicherheit { $confidence }
list-surer = Um sicherer zu sein: { $advice }
list-treated-title = In Behandlung
list-treated-note = Ein Klotz oder frische Klauenpflege verschiebt Last; diese werden nicht wie sonst beurteilt.
list-block-on = Klotz dran
list-treated-ago = { $days ->
    [0] heute behandelt
    [one] gestern behandelt
   *[other] vor { $days } Tagen behandelt
}
list-all-the-same = trotzdem { $flag } { $place }
list-page-after = Danach
list-long-title = Seit mehr als zwei Wochen lahm
list-long-note = Nichts Neues, aber ihre Klauen warten noch auf jemanden.
list-looked = Angesehen, nichts gefunden; in Ruhe gelassen, bis es schlimmer wird: { $names }
list-booked = Zum Klauenpfleger vorgemerkt: { $names }
list-dry = Trocken: { $names }
list-lent = An einem anderen Ort: { $names }
list-unknown-cows = Hier heißt niemand { $names }. Was für sie eingetragen wurde, ist aufgehoben und zählt, sobald ein Durchgang oder das Herdenregister sie nennt.
list-rechecks-title = Nachkontrollen fällig
list-due = { $late ->
    [0] heute fällig
    [one] seit gestern fällig
   *[other] seit { DAY($due) } fällig ({ $late } Tage)
}
list-due-later = fällig am { DAY($due) }
list-watch-title = Beobachten
list-watch-note = Wenig verändert; noch keinen Fuß aufheben.
list-and-more = { $names } und { $more } weitere
list-not-judged-title = Nicht zu beurteilen: { $count ->
    [one] 1 Kuh
   *[other] { $count } Kühe
}
list-not-seen-title = Nicht gesehen
list-not-seen-days = { $animal } ({ $days ->
    [one] 1 Tag
   *[other] { $days } Tage
})
list-away = { $count ->
    [one] 1 Kuh
   *[other] { $count } Kühe
} seit mehr als { $days } Tagen (trocken, verkauft?)
list-never = { $count ->
    [one] 1 Kuh
   *[other] { $count } Kühe
} des Bestands nie in einem Gang gesehen
list-lane-title = Der Gang
trend-standing = % des Körpergewichts
trend-walking = % des Körpergewichts, Spitze beim Gehen
trend = { $leg } { $line } { NUM($first, digits: 1) } -> { NUM($last, digits: 1) } { $what }, { $days } Tage

## One cow
cow-title = Kuh { $animal }
cow-lactation = Laktation { $parity }
cow-in-milk = { $days } Melktage
cow-passages = { $passages ->
    [one] 1 Durchgang
   *[other] { $passages } Durchgänge
} seit { LONG_DAY($first) }, { $trusted } davon brauchbar
cow-never = nie in einem Gang gesehen
cow-usual = Ihre üblichen Lastanteile im Stehen, % des Körpergewichts: { $shares } (Median von { $days ->
    [one] 1 Tag
   *[other] { $days } Tagen
} in Ordnung).
cow-usual-unknown = Ihre üblichen Lastanteile sind noch nicht bekannt ({ $days ->
    [one] 1 Tag
   *[other] { $days } Tage
} in Ordnung).
cow-share = { $leg } { NUM($share, digits: 1) }
cow-never-judged = Nie beurteilt.
cow-nothing = Nichts zwischen { LONG_DAY($from) } und { LONG_DAY($to) }.
cow-block-on = Ein Klotz ist dran: die Last, die er verschiebt, ist weder Besserung noch Verschlechterung.
cow-unsettled = { $days ->
    [0] Heute
    [one] Gestern
   *[other] Vor { $days } Tagen
} gepflegt oder behandelt: noch nicht eingelaufen.
cow-settle = Was es klären würde: { $advice }
cow-no-row = Nicht beurteilt { $days ->
    [one] am Tag
   *[other] in den { $days } Tagen
} bis { LONG_DAY($to) }.
cow-no-shares = Sie stand in dieser Zeit nie auf allen vier Platten: keine Lastanteile.
cow-shares-title = Lastanteil im Stehen, % des Körpergewichts, { $size ->
    [one] ein Zeichen je Tag
   *[other] ein Zeichen für { $size } Tage
}
cow-share-usual = sonst { NUM($usual, digits: 1) }
cow-spared = < entlastet
cow-mark-foot_work = Klauenpflege
cow-mark-block = Klotz dran
cow-mark-score = Gangnote 2, 3
cow-mark-flag = Hinweis
cow-span = { $from } bis { $to }
cow-column-day = Tag
cow-column-flag = Hinweis
cow-column-lame = lahm
cow-column-leg = Bein
cow-column-used = nutzb.

## Rechecks as printed
rechecks-title = { $farm ->
    [none] {""}
   *[other] { $farm }:{" "}
}Füße zum Nachsehen, Stand { LONG_DAY($date) }
rechecks-overdue = { LONG_DAY($date) } (überfällig)
rechecks-faded = { $count ->
    [one] 1 ältere Nachschau steht
   *[other] { $count } ältere Nachschauen stehen
} seit über vier Wochen offen: `recheck --all` zeigt sie. Mit `case follow` eintragen, was gesehen wurde.
rechecks-none = Nichts fällig.
rechecks-line = [ ] { $animal } { $place }, Fall { $case }: { $look_for } ({ $why })
rechecks-was-planned = war geplant für { DAY($date) }
caution-crush = Nur im Klauenstand arbeiten, mit zweitem Ausweg; Hände weg von Messer und Schleifer. Sehr lahme Kuh, einseitige Schwellung oder Bein ohne Last: Tierarzt rufen.

## Before and after, for the trimmer
compare-title = Kuh { $animal }: { $block }; Tag { $days } nach { LONG_DAY($date) }
compare-case = Fall { $case }: { $summary }
compare-no-block = kein Klotz
compare-block-on = Klotz DRAN an { $leg }
compare-block-due = Klotz DRAN an { $leg }, ab am { DAY($date) }
compare-block-unreported = Klotz an { $leg }: Ende nicht gemeldet, fällig { DAY($date) }
compare-block-off = Klotz AB ({ $leg }, seit { DAY($date) })
compare-again = Wieder fragen am { DAY($date) }.
compare-unsettled = Der Tag selbst und { $days } Tage danach werden nicht beurteilt ({ $passages ->
    [one] 1 Durchgang
   *[other] { $passages } Durchgänge
}).
compare-walked = durchgelaufen
compare-shares = VL { NUM($lf, digits: 1) }  VR { NUM($rf, digits: 1) }  HL { NUM($lr, digits: 1) }  HR { NUM($rr, digits: 1) } % des Körpergewichts
compare-first = Zuerst danach, { DAY($date) }: { $shares }
compare-legs-title = Last jedes Beins, % über (+) oder unter (-) ihrem eigenen Üblichen, ohne das, was der Klotz macht
compare-column-leg = Bein
compare-column-before = Vorher
compare-column-after = Nachher
compare-column-now = Jetzt
compare-column-normal = Normal
compare-column-back = Zurück
compare-column-half = Halbwertszeit, Tage
compare-column-measure = Maß
compare-column-change = Geschätzte Änderung
compare-column-mdc = MDC
compare-column-passages = Durchgänge
compare-never = nie
compare-half = { $value } ({ $low } bis { $high })
compare-within = bis { NUM($range) }
compare-block-effect = Der Klotz selbst: { $span } % an { $leg }.
compare-left = Übrig von dem, was fehlte: { NUM($left) } %; üblich bis jetzt: { NUM($low) } bis { NUM($high) } % { $whose }.
compare-usual-guess = (ein erster Ansatz; `fourplate outcomes` lernt die Zahlen des Hofs)
compare-usual-lesion = (aus { $cases } Fällen hier mit gleichem Befund)
compare-usual-farm = (aus { $cases } Fällen hier)
compare-too-few = Zu wenige Durchgänge in einem der Fenster für einen Vergleich der Maße.
compare-measures-title = Wie gemessen, was immer am Fuß war. Geschätzte Änderung: die des Modells, das die Ähnlichkeit naher Durchgänge berücksichtigt; sie muss nicht auf die Ziffer Nachher minus Vorher sein. In Klammern 95 %. MDC: kleinste Änderung, die etwas sagt.
span-0 = { SIGNED($value) } ({ SIGNED($low) } bis { SIGNED($high) })
span-1 = { SIGNED($value, digits: 1) } ({ SIGNED($low, digits: 1) } bis { SIGNED($high, digits: 1) })
span-2 = { SIGNED($value, digits: 2) } ({ SIGNED($low, digits: 2) } bis { SIGNED($high, digits: 2) })

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

## Pages
calendar-recheck = { $animal } { $leg }: { $what }
calendar-milk = { $animal }: letzter Tag der Wartezeit Milch
calendar-meat = { $animal }: letzter Tag der Wartezeit Fleisch
page-passages = Letzte Durchgänge
page-trace = Last auf jeder Platte, kg
page-trace-note = VL durchgezogen, VR punktiert, HL lang gestrichelt, HR Strich-Punkt, wie auf ihrer Seite. Grau: sie steht auf allen vier Platten.
page-no-trace = Von diesem Durchgang gibt es keine Messkurve.
page-shifting = Wie sie im Stehen ihr Gewicht verlagert
page-shifting-power = Leistung 0,2 bis 3 Hz, %²
page-shifting-hz = am stärksten bei, Hz
page-shifting-note = Spektrum des Anteils des rechten Beins an der Last seines Paars: durchgezogen die hinteren, punktiert die vorderen Beine. Schmerzende Hinterbeine verlagern öfter; die Bewertung zählt die Verlagerungen und nutzt das Spektrum nicht.
page-no-shifting = Sie stand nicht lange genug auf allen vier Platten.
page-pair-front = Vorderbeine
page-pair-rear = Hinterbeine
page-crush = Am Stand
page-first = Mit { $leg } anfangen
page-no-first = Heute fällt kein Bein auf.
page-last-case = Letzter Fall: { $summary }
page-her-days = Ihre Tage
page-change = Vorher und nachher
page-kept = Eingetragen.
page-waiting = hier eingetragen und noch nicht gesendet: sie gehen von selbst hinaus, wenn das Netz wieder da ist.
page-waiting-ask = Zu einem gibt es eine Frage: ansehen
page-waiting-drop = Diesen wegwerfen
page-leg = Welches Bein
page-claw = Welche Klaue
page-lesion = Befund
page-more-lesions = Andere Befunde
page-done = Was getan wurde
page-block-outer = Klotz unter die Außenklaue
page-block-inner = Klotz unter die Innenklaue
page-no-block = kein Klotz
page-enter = Eintragen
page-more-of-case = Zone, Tag, Wartezeit, Notiz
page-zone = Zone der Klauenkarte
page-zone-note = Außenseite der Klaue links, von unten gesehen, Spitze oben: 1 bis 6 tragen Gewicht, 7 und 8 sind die Außenwand, 11 und 12 die Innenwand, 10 und 0 liegen zwischen den Klauen.
page-severity = Wie schlimm: 1 leicht, 2 mittel, 3 schwer
page-milk-until = letzter Tag der Wartezeit Milch
page-meat-until = letzter Tag der Wartezeit Fleisch
page-withdrawal-note = Von der Packung oder vom Tierarzt; hier wird nichts ausgerechnet.
page-note = Notiz
page-photo = wo das Foto liegt
page-who = wer es getan hat
page-crush-caution = Finger weg von beweglichen Teilen des Stands; Handschuhe und Luft beim Klotzkleber; Messer und Schleifer von den eigenen Händen weg. Kein Gewicht auf dem Bein, Phlegmone oder Schwellung über dem Kronsaum: den Tierarzt rufen.
page-against = Noch nicht eingetragen
page-so-it-is = Es ist so: eintragen
page-again = Zurück zum Formular
page-log-in = Anmelden
page-log-out = { $who } abmelden
page-name = Name
page-password = Passwort
page-wrong-password = Name oder Passwort ist falsch.
page-barred = Zu viele falsche Passwörter. In fünf Minuten wieder versuchen.
page-may-look = Hier dürfen Sie nachsehen, aber nichts eintragen.
page-change-legs = Last jedes Beins gegen das, was bei ihr üblich ist, %
page-change-note = Offener Kreis, gestrichelt: vor der Arbeit. Voller Kreis, dicke Linie: jetzt. Die Linien sind 95-%-Intervalle; das graue Band ist ihr üblicher Bereich. * behandeltes Bein.
page-no-change = Sie hat keinen Fall mit Durchgängen darum herum: es gibt nichts zu vergleichen.
page-herd = Herde
page-herd-weeks = Neu anzusehende Kühe nach Woche
page-herd-months = Anzusehende Kühe nach Monat
page-herd-month = Monat
page-herd-lame = anzusehen
page-herd-interval = Anteil (95-%-Intervall)
page-herd-share = { NUM($share) } % ({ NUM($low) } bis { NUM($high) })
page-herd-note = Von den Kühen, die der Gang in dem Monat beurteilen konnte, jene, die an einem Tag oder mehr anzusehen oder dringend waren.
page-herd-legs = Beine der neuen Fälle
page-herd-lesions = Eingetragene Befunde
page-people = Leute und Einträge
page-nobody = Niemand hat ein Passwort: nur diese Maschine sieht die Seiten.
page-deeds = Einträge, die letzten zuerst
role-look = darf nachsehen
role-record = darf nachsehen und eintragen
role-administer = darf nachsehen und eintragen und sieht, wer es tat
page-list = Liste
page-rechecks = Nachkontrollen
page-backup-none = Hier wurde noch nie gesichert: `fourplate backup DATEI`, am besten auf einen anderen Datenträger.
page-backup-old = Die letzte Sicherung ist { $days } Tage alt: `fourplate backup DATEI`.
page-lane = Gang
page-cow-number = Kuhnummer
page-show = Zeigen
page-to-list = Zur Liste
page-rechecks-title = Nachkontrollen fällig bis { LONG_DAY($date) }
page-rechecks-due = Nachkontrollen fällig: { $count }
page-none = Keine.
page-lane-title = Der Gang am { LONG_DAY($date) }
page-lane-fine = Nichts auszusetzen.
page-lane-days = Tage
page-lane-day = Tag und Gang
page-lane-passages = Durchgänge
page-lane-cows = Kühe
page-lane-shift = gemeinsame Verschiebung aller Kühe
page-lane-steady = stetig
page-lane-caution = Erst das Vieh aus dem Gang, dann an die Platten.
page-chart-title = Lastanteil im Stehen, % des Körpergewichts
page-chart-label = Lastanteil jedes Beins nach Tagen
page-chart-note = Jedes Bein hat seine eigene Strichart. Dick rot: das entlastete Bein; die waagrechte Linie: ihr üblicher Anteil. Graue Tage: Klotz dran. T Klauenpflege, S Gangnote, ! Hinweis.
page-days = Tage
page-events = was geschah
page-leg-sure = dieses Bein: { PERCENT($probability) }
page-weight-arrow = { NUM($first, digits: 1) } → { NUM($last, digits: 1) } { $what }
page-read-only = Diese Seite kann nur gelesen werden.
page-empty-store = Der Speicher hat noch keinen Durchgang: über keine Kuh ist etwas zu sagen.
page-no-page = Diese Seite gibt es nicht.
page-no-animal = Von einem solchen Tier ist nichts bekannt.
page-busy = Der Speicher ist gerade nicht lesbar. In einer Minute wieder versuchen.
page-local-only = Diese Seite antwortet nur auf diesem Rechner.

## Withdrawals
withdrawal-title = Wartezeit läuft
withdrawal-note = Wie eingetragen; nichts wird berechnet. Es gelten Packungsbeilage und Tierarzt.
withdrawal = { $milk ->
    [none] {""}
   *[other] keine Milch bis einschließlich { LONG_DAY($milk) }
}{ $milk ->
    [none] {""}
   *[other] { $meat ->
        [none] {""}
       *[other] {"; "}
    }
}{ $meat ->
    [none] {""}
   *[other] kein Fleisch bis einschließlich { LONG_DAY($meat) }
}
page-which-cow = Welche Kuh ist { $word }?
page-day = Tag
page-old-form = Dieses Formular stammt von vor dem letzten Start des Programms. Seite neu laden und noch einmal versuchen; nichts wurde eingetragen.
page-bad-form = Dieses Formular ist nicht lesbar; nichts wurde eingetragen.
page-future = Dieser Tag liegt in der Zukunft; nichts wurde eingetragen. Geht die Uhr dieses Rechners richtig?
mark-looked = Angesehen, nichts
mark-booked = Vorgemerkt
mark-dry = Trocken
mark-sold = Verkauft
