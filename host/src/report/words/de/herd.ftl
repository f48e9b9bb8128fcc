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

## Gesagt, ohne nachzusehen
tell-title = { $farm ->
    [none] Gang
   *[other] { $farm }
}: { $count ->
    [one] eine Sache, die nicht warten kann
   *[other] { $count } Sachen, die nicht warten können
}
tell-urgent = { $cow }: dringend am { DAY($date) }, { $place }{ $why ->
    [none] {""}
   *[other] : { $why }
}
tell-lane = Gang { $lane }: { $fault }
tell-over = { $cow }: letzter Tag der Wartezeit für { $of ->
    [milk] Milch
   *[meat] Fleisch
}, wie eingetragen, war { LONG_DAY($date) }. Packungsbeilage, Tierarzt und Molkerei sagen, was abgegeben werden darf.
tell-told = Jetzt gesagt:
tell-waits = Wartet, { $why ->
    [only_asked] niemandem gesagt
    [no_program] weil kein Programm eingestellt ist, das es sagt: fourplate farm tell_by='...'
    [quiet] weil Ruhezeit ist
    [enough] weil heute genug gesagt wurde
    [later] und wird nach einer Pause noch einmal versucht, weil der letzte Versuch misslang
    [busy] weil ein anderes fourplate gerade dabei ist
   *[failed] weil das Programm misslang, und wird später noch einmal versucht: { $said }
}:
tell-nothing = Es ist nichts zu sagen.
