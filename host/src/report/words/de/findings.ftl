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
event-told = ein anderes Programm meldete Lahmheit
