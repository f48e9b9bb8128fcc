## A case in one line, and the sheet of a visit
case-no-lesion = no lesion
case-zone = zone { $zone }
case-trim = trim
case-horn_removed = loose horn removed
case-drained = drained
case-dressing = dressing
case-block = block{ $claw ->
    [outer] {" "}outer
    [inner] {" "}inner
   *[none] {""}
}
case-looked = looked at
claw-outer = outer
claw-inner = inner
claw-both = both
seen-block-on = block on
seen-block-lost = block lost
seen-block-off = block off
seen-height = { $height } mm left
seen-healed = healed
seen-improving = improving
seen-same = the same
seen-worse = worse
visit-title = Visit of { LONG_DAY($date) }{ $farm ->
    [none] {""}
   *[other] , { $farm }
}{ $who ->
    [none] {""}
   *[other] , { $who }
}
visit-nothing = Nothing was entered for that day.
visit-cow = Cow
visit-foot = Foot
visit-found = Found
visit-done = Done
visit-next = Next look
visit-veterinarian = { $animal } { $place }, case { $case }: call the veterinarian if none has seen it.

## The morning list
caution-vet = Call the veterinarian today for a cow that puts no weight on a leg, cannot keep up, has a leg swollen above the claw, or has fever; a lame cow that does not get better needs one too.
caution-why = The list says which leg she takes weight off, not why. A flag is no mobility score.
caution-lane = Clear the lane of cattle before you go near the plates; never work alone in a race.
list-title = { $farm ->
    [none] List
   *[other] { $farm }: list
} after { LONG_DAY($date) }
list-seen = Seen: { $passages ->
    [one] 1 passage
   *[other] { $passages } passages
}, { $herd ->
    [0] { $cows ->
        [one] 1 cow
       *[other] { $cows } cows
    }
   *[other] { $cows } of { $herd } cows
}; { $unidentified } not identified, { $unusable } not usable.
list-judged = Judged: { $judged ->
    [one] 1 cow
   *[other] { $judged } cows
}; { $not_judged } could not be judged.
list-nothing-title = Nothing to check
list-nothing = { $judged ->
    [one] 1 cow was judged, and does not need her
   *[other] { $judged } cows were judged, and none of them needs her
} feet looked at today.{ $not_judged ->
    [0] {""}
    [one] {" "}One cow could not be judged and may be lame.
   *[other] {" "}{ $not_judged } cows could not be judged and may be lame.
}
list-unknown-title = Nothing can be said
list-no-passage = No passage was stored for this day, so no cow could be judged.
list-none-judged = No cow could be judged on this day; that does not mean they are sound.
list-check-title = To check today: { $now }{ $all ->
    [none] {""}
   *[other] {" "}of { $all }
}
list-after = After these (you look at { $capacity } a day): { $names }
list-lame = lame: { PERCENT($probability) }
list-no-probability = no probability
list-confidence = { $since }; confidence { $confidence }
list-surer = To be surer: { $advice }
list-treated-title = Under treatment
list-treated-note = A block or a fresh trim moves load; these are not judged as usual.
list-block-on = block on
list-treated-ago = { $days ->
    [0] treated today
    [one] treated yesterday
   *[other] treated { $days } days ago
}
list-all-the-same = { $flag } { $place } all the same
list-rechecks-title = Rechecks due
list-page-after = After these
list-long-title = Lame for more than two weeks
list-long-note = No news, but their feet still wait for somebody.
list-looked = Looked at, nothing found; left alone until they get worse: { $names }
list-booked = Booked for the trimmer: { $names }
list-dry = Dry: { $names }
list-lent = At another place: { $names }
list-unknown-cows = Nobody here is called { $names }. What was entered for them is kept, and counts once a passage or the herd register names them.
list-due = { $late ->
    [0] due today
    [one] due since yesterday
   *[other] due since { DAY($due) } ({ $late } days)
}
list-due-later = due { DAY($due) }
list-watch-title = Watch
list-watch-note = Changed a little; no need to lift a foot yet.
list-and-more = { $names } and { $more } more
list-not-judged-title = Could not be judged: { $count ->
    [one] 1 cow
   *[other] { $count } cows
}
list-not-seen-title = Not seen
list-not-seen-days = { $animal } ({ $days ->
    [one] 1 day
   *[other] { $days } days
})
list-away = { $count ->
    [one] 1 cow
   *[other] { $count } cows
} for more than { $days } days (dry, sold?)
list-never = { $count ->
    [one] 1 cow
   *[other] { $count } cows
} of the herd register never seen in a lane
list-lane-title = The lane
trend-standing = % of body weight
trend-walking = % of body weight at her peak
trend = { $leg } { $line } { NUM($first, digits: 1) } -> { NUM($last, digits: 1) } { $what }, { $days } days

## One cow
cow-title = Cow { $animal }
cow-lactation = lactation { $parity }
cow-in-milk = { $days } days in milk
cow-passages = { $passages ->
    [one] 1 passage
   *[other] { $passages } passages
} since { LONG_DAY($first) }, { $trusted } of them usable
cow-never = never seen in a lane
cow-usual = Her usual leg shares, standing, % of body weight: { $shares } (median of { $days ->
    [one] 1 clear day
   *[other] { $days } clear days
}).
cow-usual-unknown = Her usual leg shares are not known yet ({ $days ->
    [one] 1 clear day
   *[other] { $days } clear days
}).
cow-share = { $leg } { NUM($share, digits: 1) }
cow-never-judged = Never judged.
cow-nothing = Nothing between { LONG_DAY($from) } and { LONG_DAY($to) }.
cow-block-on = A block is on: the load it moves is neither recovery nor worsening.
cow-unsettled = { $days ->
    [0] Trimmed or treated today
    [one] Trimmed or treated yesterday
   *[other] Trimmed or treated { $days } days ago
}: not settled yet.
cow-settle = What would settle it: { $advice }
cow-no-row = Not judged in the { $days ->
    [one] day
   *[other] { $days } days
} up to { LONG_DAY($to) }.
cow-no-shares = She never stood on all four plates in this time: no leg shares.
cow-shares-title = Leg share standing, % of body weight, { $size ->
    [one] a mark a day
   *[other] a mark for { $size } days
}
cow-share-usual = usual { NUM($usual, digits: 1) }
cow-spared = < lighter
cow-mark-foot_work = foot work
cow-mark-block = block on
cow-mark-score = scored 2 or 3
cow-mark-flag = flagged
cow-span = { $from } to { $to }
cow-column-day = day
cow-column-flag = flag
cow-column-lame = lame
cow-column-leg = leg
cow-column-used = used

## Rechecks as printed
rechecks-title = { $farm ->
    [none] Feet
   *[other] { $farm }: feet
} to look at again, as of { LONG_DAY($date) }
rechecks-overdue = { LONG_DAY($date) } (overdue)
rechecks-faded = { $count ->
    [one] 1 older recheck has
   *[other] { $count } older rechecks have
} stood open for more than four weeks: `recheck --all` shows them. Say what was seen with `case follow`.
rechecks-none = Nothing is due.
rechecks-line = [ ] { $animal } { $place }, case { $case }: { $look_for } ({ $why })
rechecks-was-planned = was planned for { DAY($date) }
caution-crush = Work in the crush only, with a second way out; keep hands clear of knife and grinder. A very lame cow, a swelling on one side, or no weight on the leg: call the veterinarian.

## Before and after, for the trimmer
compare-title = Cow { $animal }: { $block }; day { $days } after { LONG_DAY($date) }
compare-case = Case { $case }: { $summary }
compare-no-block = no block
compare-block-on = block ON at { $leg }
compare-block-due = block ON at { $leg }, due off { DAY($date) }
compare-block-unreported = block at { $leg }: end not reported, due { DAY($date) }
compare-block-off = block OFF ({ $leg }, since { DAY($date) })
compare-again = Ask again on { DAY($date) }.
compare-unsettled = The day itself and { $days } days after are not judged ({ $passages ->
    [one] 1 passage
   *[other] { $passages } passages
}).
compare-walked = walked through
compare-shares = LF { NUM($lf, digits: 1) }  RF { NUM($rf, digits: 1) }  LR { NUM($lr, digits: 1) }  RR { NUM($rr, digits: 1) } % of body weight
compare-first = First after, { DAY($date) }: { $shares }
compare-legs-title = Load of each leg, % above (+) or below (-) her own usual, the block's effect taken out
compare-column-leg = Leg
compare-column-before = Before
compare-column-after = After
compare-column-now = Now
compare-column-normal = Normal
compare-column-back = Back
compare-column-half = Half-time, days
compare-column-measure = Measure
compare-column-change = Estimate of change
compare-column-mdc = MDC
compare-column-passages = Passages
compare-never = never
compare-half = { $value } ({ $low } to { $high })
compare-within = within { NUM($range) }
compare-block-effect = The block itself: { $span } % on { $leg }.
compare-left = Left of what was missing: { NUM($left) } %; usual by now: { NUM($low) } to { NUM($high) } % { $whose }.
compare-usual-guess = (a first guess; `fourplate outcomes` learns the farm's own)
compare-usual-lesion = (from { $cases } cases here with the same lesion)
compare-usual-farm = (from { $cases } cases here)
compare-too-few = Too few passages in one of the windows to compare measures.
compare-measures-title = As measured, whatever was on the foot. Estimate of change: the model's, which allows for passages of one time being alike; it need not be after less before to the digit. In brackets 95 %. MDC: the least change that tells.
span-0 = { SIGNED($value) } ({ SIGNED($low) } to { SIGNED($high) })
span-1 = { SIGNED($value, digits: 1) } ({ SIGNED($low, digits: 1) } to { SIGNED($high, digits: 1) })
span-2 = { SIGNED($value, digits: 2) } ({ SIGNED($low, digits: 2) } to { SIGNED($high, digits: 2) })
course-no_leg_low = no leg was clearly low before, and none is now

## Withdrawals
withdrawal-title = Withdrawal not over
withdrawal-note = As entered; nothing is computed. The label and the veterinarian decide.
withdrawal = { $milk ->
    [none] {""}
   *[other] no milk up to and with { LONG_DAY($milk) }
}{ $milk ->
    [none] {""}
   *[other] { $meat ->
        [none] {""}
       *[other] {"; "}
    }
}{ $meat ->
    [none] {""}
   *[other] no meat up to and with { LONG_DAY($meat) }
}
page-which-cow = Which cow is { $word }?
page-day = day
page-old-form = This form is from before the program was started anew. Load the page again and try once more; nothing was recorded.
page-bad-form = This form cannot be read; nothing was recorded.
page-future = That day is in the future; nothing was recorded. Is the clock of this machine right?
mark-looked = Looked, nothing
mark-booked = Booked
mark-dry = Dry
mark-sold = Sold

## Told without looking
tell-title = { $farm ->
    [none] Lane
   *[other] { $farm }
}: { $count ->
    [one] one thing that cannot wait
   *[other] { $count } things that cannot wait
}
tell-urgent = { $cow }: urgent on { DAY($date) }, { $place }{ $why ->
    [none] {""}
   *[other] : { $why }
}
tell-lane = Lane { $lane }: { $fault }
tell-over = { $cow }: last day of { $of } withdrawal, as entered, was { LONG_DAY($date) }. The label, the veterinarian and your dairy say what may go out.
tell-told = Told now:
tell-waits = Waits, { $why ->
    [only_asked] nobody was told
    [no_program] since no program is set that tells: fourplate farm tell_by='...'
    [quiet] since it is the quiet hours
    [enough] since enough was told today
    [later] and is tried again after a pause, since the last try failed
    [busy] since another fourplate is telling
   *[failed] since the program failed and is tried again later: { $said }
}:
tell-nothing = Nothing has to be told.
