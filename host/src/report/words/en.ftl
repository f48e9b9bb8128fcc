### English. Fields are those of the finding or of the call; a field in % or kg is a plain number.
### NUM($x, digits: 1), SIGNED, ABS write numbers; LESS_MORE($x) writes "12 % less", "3 % more" or "the same", THAN_USUAL($x) "12 % less than usual";
### PERCENT($p) writes a probability; DAY and LONG_DAY write dates.

## Forms
months = Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec
weekdays = Mon Tue Wed Thu Fri Sat Sun
form-day = D M
form-long_day = W D M Y
form-decimal = .
form-less = less
form-more = more
form-same = the same
form-than_usual = than usual
form-as_usual = as much as usual
form-under = under 1 %
form-over = over 99 %

## Legs, flags
leg-LF = LF
leg-RF = RF
leg-LR = LR
leg-RR = RR
leg-LF-name = left front
leg-RF-name = right front
leg-LR-name = left rear
leg-RR-name = right rear
place-both_front = both front legs
place-both_rear = both rear legs
place-unclear = leg not clear
flag-no_data = no data
flag-cannot_tell = cannot tell
flag-clear = clear
flag-watch = watch
flag-check = check
flag-urgent = URGENT
confidence-low = low
confidence-fair = fair
confidence-high = high

number-0 = { NUM($value, digits: 0) }
number-1 = { NUM($value, digits: 1) }
number-2 = { NUM($value, digits: 2) }
percent = { PERCENT($probability) }
day = { DAY($date) }
long-day = { LONG_DAY($date) }

## Counts
days = { $count ->
    [one] 1 day
   *[other] { $count } days
}
since-unclear = since when is not clear
since = since { DAY($day) }, { $days ->
    [0] today
    [one] 1 day
   *[other] { $days } days
}
since-between = since { DAY($day) } (between { DAY($earliest) } and { DAY($latest) }), { $days ->
    [0] today
    [one] 1 day
   *[other] { $days } days
}

## Why a cow has her flag
reason-no_trusted_passage = no usable passage so far
reason-not_seen = not seen { $days ->
    [one] since yesterday
   *[other] for { $days } days
}
reason-set_aside_by_weight = { $passages ->
    [one] 1 passage under her tag is not counted: { NUM($seen_kg) } kg
   *[other] { $passages } passages under her tag are not counted: { NUM($seen_kg) } kg
}, and she weighs { NUM($usual_kg) } kg. Whose tag was it?
reason-set_aside_by_loads = { $passages ->
    [one] 1 passage under her tag is not counted: the loads fit
   *[other] { $passages } passages under her tag are not counted: the loads fit
} her on no leg. Whose tag was it?
reason-tags_swapped = she and { $with } seem to wear each other's tags
reason-block_on = { $leg ->
    [none] a foot
   *[other] { $leg }
} has had a block { $days ->
    [0] since today
    [one] for 1 day
   *[other] for { $days } days
}. A block alone shifts load, so this pair is not judged.
reason-foot_work = { $days ->
    [0] feet worked on today
    [one] feet worked on yesterday
   *[other] feet worked on { $days } days ago
}: not settled yet
reason-share_low = takes weight off { $leg }: it carries { NUM($now_pct, digits: 1) } % of her weight, usually { NUM($usual_pct, digits: 1) } %
    .detail = { NUM($sd, digits: 1) } SD
reason-front_share = front legs carry { NUM($now_pct, digits: 1) } % of her weight, usually { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-peak_low = treads lighter on { $leg } when walking: compared with { $other } { LESS_MORE($now_pct) }, usually { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-front_peaks = front legs take { NUM($now_pct, digits: 1) } % of her load when walking, usually { NUM($usual_pct, digits: 1) } %
    .detail = { SIGNED($sd, digits: 1) } SD
reason-time_short = keeps { $leg } on the ground for a shorter time: compared with { $other } { LESS_MORE($now_pct) }, usually { LESS_MORE($usual_pct) }
    .detail = { NUM($sd, digits: 1) } SD
reason-sway = sways { THAN_USUAL($change_pct) } on her { $pair ->
    [Front] front
   *[Rear] hind
} legs
    .detail = { SIGNED($sd, digits: 1) } SD
reason-pace = keeps her feet on the ground { THAN_USUAL($change_pct) }
    .detail = { SIGNED($sd, digits: 1) } SD
reason-shifts = shifts her weight { NUM($now_per_minute, digits: 1) } times a minute, usually { NUM($usual_per_minute, digits: 1) }
reason-lifts = lifts a leg { NUM($now_per_minute, digits: 1) } times a minute, usually { NUM($usual_per_minute, digits: 1) }
reason-drift = { $pair ->
    [Front] front
   *[Rear] hind
} legs have been loaded unevenly for days, more than is usual for her
    .detail = EWMA { SIGNED($value_sd, digits: 1) } SD, limit { NUM($limit_sd, digits: 1) }
reason-several_small = several small changes together
reason-as_when_sound = loads as when sound

## Treated cows
reason-block_end_not_reported = { $leg ->
    [none] a block
   *[other] the block on { $leg }
} was due off { $days ->
    [0] today
    [one] yesterday
   *[other] { $days } days ago
}. Is it still on? Until you say, this pair is not judged.
reason-more_than_treatment = { $leg ->
    [none] she takes far more weight off
   *[other] { $leg } loses far more load
} than a block or a trim explains. Call the veterinarian today.
advice-say_block = say whether the block is off
advice-call_vet = look at her feet today, with the veterinarian
course-block_end_not_reported = the block on { $leg } was due off on { DAY($due) }. Is it still on?
look_for-block_still_on = is the block still on? take it off and say so

## What would settle it
advice-tagged_passage = a passage with a tag read
advice-read_tag = read her tag by hand
advice-read_tags = read her tag and that of { $with } by hand
advice-recheck_foot = look at the treated foot; loads can be judged once the block is off
advice-wait_after_foot_work = look again a week or two after the work on her feet
advice-more_passages = { $passages } more passages, or a mobility score by eye: what is usual for her is not known yet
advice-lift_pair = lift both feet of the pair
advice-lift_foot = lift the foot
advice-next_days = the next two days' passages, or a mobility score by eye

## The lane, as the score sees it
lane-plate_off = plate { $plate } reads { LESS_MORE($error_pct, digits: 1) } than it should; the scores allow for it
lane-plate_or_herd = plate { $plate } reads { LESS_MORE($error_pct, digits: 1) } than it should, and so do other lanes: hold a known weight against it, or the herd has changed
lane-plates_off = more than one plate reads wrong; the scores allow for it. Calibrate the lane.
    .detail = right less left: front { SIGNED($front_split_points, digits: 1) }, rear { SIGNED($rear_split_points, digits: 1) } points
lane-front_share_moved = all cows put { LESS_MORE($change_pct, digits: 1) } of their weight on their front legs: check the plates with a known weight
lane-herd_moves = the whole herd moves differently: feet stay down { LESS_MORE($stance_time_pct) } time, sway { LESS_MORE($sway_pct) }; no plate explains it. Is the floor slippery?
lane-plate_wrong = plate { $plate } reads { LESS_MORE($error_pct) } than it should. No cow is scored until that is settled: calibrate the lane
lane-plates_wrong = the plates read other loads than the same cows had before: LF { SIGNED($lf_pct) } %, RF { SIGNED($rf_pct) } %, LR { SIGNED($lr_pct) } %, RR { SIGNED($rr_pct) } %. No cow is scored until that is settled: calibrate the lane
lane-plates_swapped = { $swapped ->
    [left_and_right] the left and right plates stand for one another
    [front_plates] the two front plates stand for one another
    [rear_plates] the two rear plates stand for one another
   *[front_and_rear] the front and rear plates stand for one another
}. No cow is scored until that is settled: look at the cables
lane-plate_clips = plate { $plate } reads no more than { NUM($at_kg) } kg, though cows put more on it. No cow is scored until that is settled: look at the load cell and the amplifier
lane-plate_noisy = the load on plate { $plate } trembles { NUM($times, digits: 1) } times as much as it used to, and on no other. No cow is scored until that is settled: look at the cable, and for water and dirt under the plate
lane-few_passages = only { $passages ->
    [one] 1 passage
   *[other] { $passages } passages
}, usually { $usual }. Was the lane off?
lane-unusable = { NUM($unusable_pct) } % of the passages cannot be used, mostly for { $commonest } ({ $times })
lane-reader_ahead = the tag reader's clock is { NUM($by_s, digits: 1) } s ahead of the lane's; the names allow for it. Set the clock.
lane-reader_behind = the tag reader's clock is { NUM($by_s, digits: 1) } s behind the lane's; the names allow for it. Set the clock.
lane-reader_unsure = the tag reads fit the passages at no setting of the reader's clock, so nobody was named for a while: look at the reader and its clock
lane-untagged = { NUM($untagged_pct) } % of the passages have no ear tag: look at the tag reader

## How a case is going
verdict-as_expected = as expected
verdict-slower_than_expected = slower than expected
verdict-worse = worse
verdict-another_leg_now = another leg now
verdict-block_probably_lost = block probably lost
verdict-cannot_tell_yet = cannot tell yet
course-too_early = the first { $days } days after the work are not judged
course-few_passages = fewer than { $passages } passages since the work has settled
course-other_leg_lower = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), { $treated } { LESS_MORE($treated_now_pct) }
course-sudden_step = the load of { $leg } changed suddenly on { DAY($since) }, while the block should be on; look at the other foot too
course-less_than_before = { $leg } now carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }); before the work { LESS_MORE($before_pct) }
course-carries = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) })
course-carries_other_low = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), but { $other } may be sore now
course-carries_restless = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }), but she shifts her weight more than when sound: both feet may be sore
course-carries_blocked = { $leg } carries { THAN_USUAL($now_pct) } ({ LESS_MORE($now_low_pct) } to { LESS_MORE($now_high_pct) }); how much of that is the block is not known

## Rechecks
recheck-planned = as planned
recheck-usual_time = { $days } days after the work
recheck-block_time = { $days } days on
recheck-dressing_time = a dressing comes off after { $days } days
recheck-early_block_look = a block is looked at on days { $from } to { $to }
recheck-seen_worse = seen worse on { DAY($date) }: treat again, or the veterinarian
recheck-seen_same = seen the same on { DAY($date) }
recheck-block_wear = by the wear seen so far, between { DAY($earliest) } and { DAY($latest) }
recheck-course = the course of the case
look_for-lesion = { $claw ->
    [outer] outer claw:{" "}
    [inner] inner claw:{" "}
    [both] both claws:{" "}
   *[none] {""}
}{ $lesion }{ $zone ->
    [none] {""}
   *[other] {" "}in zone { $zone }
}
look_for-block_height = block still on, height left
look_for-block_off = take the block off
look_for-block_worn = block worn through; take it off
look_for-dressing_off = dressing off
look_for-other_foot = the other foot too
look_for-veterinarian = call the veterinarian if none has seen it

## Many cases
group-few_cows = fewer than { $cows } cows: too few to say anything of the group
group-more = the treated leg carried { ABS($change_pct) } % more of its usual load after than before ({ LESS_MORE($change_low_pct) } to { LESS_MORE($change_high_pct) }); without untreated cows beside them this does not say why
group-less = the treated leg carried { ABS($change_pct) } % less of its usual load after than before ({ LESS_MORE($change_low_pct) } to { LESS_MORE($change_high_pct) }); without untreated cows beside them this does not say why
group-no_change = no change that could be told from none; without untreated cows beside them this does not say why

## Lesions
lesion-AC = asymmetric claws
lesion-BU = bulb ulcer
lesion-CC = corkscrew claws
lesion-CD = concave dorsal wall
lesion-DD = digital dermatitis
lesion-DS = double sole
lesion-HF = horn fissure
lesion-HFA = axial horn fissure
lesion-HFH = horizontal horn fissure
lesion-HFV = vertical horn fissure
lesion-HHE = heel horn erosion
lesion-ID = interdigital dermatitis
lesion-IH = interdigital hyperplasia
lesion-IP = interdigital phlegmon
lesion-SC = scissor claws
lesion-SH = sole haemorrhage
lesion-SHC = circumscribed sole haemorrhage
lesion-SHD = diffuse sole haemorrhage
lesion-SU = sole ulcer
lesion-SW = swelling of coronet or bulb
lesion-TN = toe necrosis
lesion-TS = thin sole
lesion-TU = toe ulcer
lesion-U = ulcer
lesion-WL = white line disease
lesion-WLA = white line abscess
lesion-WLF = white line fissure

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

## What happened on a day
event-calved = calved
event-foot_work = foot work{ $leg ->
    [none] {""}
   *[other] {" "}{ $leg }
}{ $lesion ->
    [yes] , lesion
   *[no] {""}
}{ $block ->
    [yes] , block on
   *[no] {""}
}
event-block_on = block on
event-block_off = block off
event-scored = scored { $score }

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

## The lane's state
lane-none = No lane has been heard yet: `fourplate listen`, `fourplate import capture` or `fourplate import readings` brings one in.
lane-by-file = Lane { $lane }, from files: last on { LONG_DAY($last_day) }, { $passages ->
    [one] one passage
   *[other] { $passages } passages
} that day; { $unusable } not usable, { $unidentified } not identified
lane-title = Lane { $lane }: last heard { $heard ->
    [none] never over a link
   *[other] { $heard }
}, firmware { $firmware }, { $rate_hz } Hz
lane-column-plate = plate
lane-column-empty = empty kg
lane-column-noise = trembles kg
lane-all-well = all well
level-now = now
level-soon = soon
level-note = note

## What is wrong with a lane
moment = { $since_time ->
    [none] since { DAY($since_date) }
   *[other] since { $since_time }
}
fault-captures_only = known from captures only; never heard over a link
fault-silent = not heard { moment }: check that `fourplate listen` runs, then cable and power; the device keeps its passages meanwhile
fault-counts_anew = its passages are refused { moment }: it counts anew, or two devices share one number. The device keeps them; give it a number of its own
fault-plate_saturated = plate { $plate } is at its end stop: take off what lies on it, then check cell and cable ({ moment }); passages are not trusted
fault-plate_stuck = plate { $plate } gives the same reading all the time: check cell and cable ({ moment }); passages are not trusted
fault-plate_silent = plate { $plate } gives no readings: check converter and cable ({ moment }); passages are not trusted
fault-plate_dirty = plate { $plate } carries { NUM($empty_kg, digits: 1) } kg empty ({ moment }): clean on and under it
fault-plate_propped_up = plate { $plate } reads { NUM($missing_kg, digits: 1) } kg too little empty ({ moment }): see that nothing props it up, then calibrate the empty deck
fault-plate_noisy = plate { $plate } trembles by { NUM($noise_kg, digits: 1) } kg empty ({ moment }): look for rubbing, loose mounts, water in the junction box
fault-readings_lost = { NUM($lost_pct, digits: 1) } % of the readings since its start are missing: check the converter
fault-passages_given_up = { $count } passages or tag reads were given up for lack of space before any host took them: listen more often
fault-journal_fills = its memory is { $fill_pct } % full with { $waiting } items to deliver: listen, or see why the link is slow
fault-traces_given_up = { $count } pieces of traces were given up for lack of space
fault-broken_messages = { $count } messages reached it broken since its start: check the cable
fault-bad_tag_lines = { $count } lines of the tag reader made no sense since its start
fault-supply_low = its supply is { NUM($now_v, digits: 1) } V, usually { NUM($usual_v, digits: 1) } V: check battery, charger and cable
fault-restarted = it restarted { $times ->
    [one] once
   *[other] { $times } times
} { moment }, last because { $cause ->
    [supply] the supply dipped: check power
    [hung] it hung: tell the maker
   *[broken] its program found itself broken: tell the maker
}
fault-clock_drift = its clock runs { SIGNED($drift_ppm) } ppm off; the link corrects for it
fault-waiting = { $count } items wait until their time, or the rest of their trace, is known
fault-plate_off = plate { $plate } reads { LESS_MORE($error_pct, digits: 1) } than it should { moment }: clean under it or calibrate; the scores allow for it
fault-plate_or_herd = plate { $plate } reads { LESS_MORE($error_pct, digits: 1) } than it should { moment }, and so do other lanes: hold a known weight against it, or the herd has changed
fault-herd = the herd moves differently

## Pages
calendar-recheck = { $animal } { $leg }: { $what }
calendar-milk = { $animal }: last day of milk withdrawal
calendar-meat = { $animal }: last day of meat withdrawal
page-passages = Last passages
page-trace = Load on each plate, kg
page-trace-note = LF whole line, RF dots, LR long dashes, RR dashes and dots, as on her page. Grey: she stands on all four plates.
page-no-trace = No trace was kept of this passage.
page-shifting = How she shifts her weight while standing
page-shifting-power = power 0.2 to 3 Hz, %²
page-shifting-hz = strongest at, Hz
page-shifting-note = Spectrum of the right leg's share of its pair's load: whole line the rear legs, dots the front legs. Sore hind legs shift more often; the score counts the shifts and does not use the spectrum.
page-no-shifting = She did not stand on all four plates for long enough.
page-pair-front = front legs
page-pair-rear = hind legs
page-crush = At the crush
page-first = Start with { $leg }
page-no-first = No leg stands out today.
page-last-case = Last case: { $summary }
page-her-days = Her days
page-change = Before and after
page-kept = Entered.
page-waiting = entered here and not sent yet: they go out by themselves when the network is back.
page-waiting-ask = One is asked about: look at it
page-waiting-drop = Throw that one away
page-leg = Which leg
page-claw = Which claw
page-lesion = What was found
page-more-lesions = Other lesions
page-done = What was done
page-block-outer = block under the outer claw
page-block-inner = block under the inner claw
page-no-block = no block
page-enter = Enter
page-more-of-case = Zone, day, withdrawal, note
page-zone = Zone of the foot map
page-zone-note = Outer side of the claw on the left, seen from below, toe up: 1 to 6 bear weight, 7 and 8 are the outside wall, 11 and 12 the inside wall, 10 and 0 lie between the claws.
page-severity = How bad: 1 mild, 2 moderate, 3 severe
page-milk-until = last day of milk withdrawal
page-meat-until = last day of meat withdrawal
page-withdrawal-note = From the label or the veterinarian; nothing is worked out here.
page-note = note
page-photo = where the photo is
page-who = who did it
page-crush-caution = Keep fingers out of the crush's moving parts; gloves and air for block glue; knives and grinders away from your own hands. No weight on the leg, phlegmon or swelling above the hoof: call the veterinarian.
page-against = Not entered yet
page-so-it-is = It is so: enter it
page-again = Back to the form
page-log-in = Log in
page-log-out = Log out { $who }
page-name = name
page-password = password
page-wrong-password = The name or the password is wrong.
page-barred = Too many wrong passwords. Try again in five minutes.
page-may-look = You may look here, and enter nothing.
page-change-legs = Load of each leg against what is usual for her, %
page-change-note = Open circle, broken line: before the work. Full circle, thick line: now. Lines are 95 % intervals; the grey band is her usual range. * treated leg.
page-no-change = She has no case with passages around it: nothing can be compared.
page-herd = Herd
page-herd-weeks = Cows newly to check, by week
page-herd-months = Cows to check, by month
page-herd-month = month
page-herd-lame = to check
page-herd-interval = share (95 % interval)
page-herd-share = { NUM($share) } % ({ NUM($low) } to { NUM($high) })
page-herd-note = Of the cows the lane could judge that month, those to check or urgent on one day or more.
page-herd-legs = Legs of new flags
page-herd-lesions = Lesions entered
page-people = People and entries
page-nobody = Nobody has a password: this machine alone can see these pages.
page-deeds = What was entered, latest first
role-look = may look
role-record = may look and record
role-administer = may look and record, and see who did
page-list = List
page-rechecks = Rechecks
page-backup-none = Nothing here was ever backed up: `fourplate backup FILE`, best on another disk.
page-backup-old = The last backup is { $days } days old: `fourplate backup FILE`.
page-lane = Lane
page-cow-number = cow number
page-show = Show
page-to-list = To the list
page-rechecks-title = Rechecks due by { LONG_DAY($date) }
page-rechecks-due = Rechecks due: { $count }
page-none = None.
page-lane-title = The lane on { LONG_DAY($date) }
page-lane-fine = Nothing to say against it.
page-lane-days = Days
page-lane-day = day and lane
page-lane-passages = passages
page-lane-cows = cows
page-lane-shift = common shift of all cows
page-lane-steady = steady
page-lane-caution = Clear the lane of cattle before you go near the plates.
page-chart-title = Leg share standing, % of body weight
page-chart-label = Leg share of each leg by day
page-chart-note = Each leg has its own broken line. Thick red: the leg she takes weight off; the level line: her usual share. Grey days: a block was on. T foot work, S mobility score, ! flagged.
page-days = Days
page-events = what happened
page-leg-sure = this leg: { PERCENT($probability) }
page-weight-arrow = { NUM($first, digits: 1) } → { NUM($last, digits: 1) } { $what }
page-read-only = This page can only be read.
page-empty-store = The store has no passage yet: nothing can be said about any cow.
page-no-page = There is no such page.
page-no-animal = Nothing is known of such an animal.
page-busy = The store cannot be read just now. Try again in a minute.
page-local-only = This page answers on this machine only.

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
