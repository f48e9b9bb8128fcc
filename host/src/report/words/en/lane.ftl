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

## What a lane can see, and work at the plates
check-title = Lane { $lane }, { LONG_DAY($from) } to { LONG_DAY($to) }: { $passages ->
    [one] one passage
   *[other] { $passages } passages
} of { $cows ->
    [one] one known cow
   *[other] { $cows } known cows
}
check-usable = usable: { NUM($pct) } % of the passages
check-identified = named: { NUM($pct) } %; { NUM($a_day, digits: 1) } passages a cow on a day she comes
check-standing = stood on all four plates: { NUM($pct) } % of the usable passages{ $seconds ->
    [none] {""}
   *[other] , for { NUM($seconds, digits: 1) } s
}
check-column-measure = measure
check-column-same_day = same day
check-column-days_apart = between days
check-column-day_1 = 1 day
check-column-day_3 = 3 days
check-column-day_7 = 7 days
check-column-day_14 = 14 days
check-measure-body_weight = weight, kg
check-measure-front_share = front leg standing, %
check-measure-rear_share = hind leg standing, %
check-measure-front_peak = front leg walking, %
check-measure-rear_peak = hind leg walking, %
check-explained = Standing: % of body weight. Walking: the peak, % of the mean of the pair. The first two columns: how far passages of one cow lie apart (standard deviation). The others: the smallest change in one cow that is told four times in five so long after it came. Days are taken as independent; a cow whose stance swings slowly hides more.
check-none = no passages in these days
gain-too_few_to_tell = too few cows came again ({ NUM($passages) } usable passages): look again after some days
gain-more_usable = { NUM($unusable_pct) } % of the passages cannot be used, mostly for { $commonest } ({ NUM($times) }): slow the flow, keep the cows apart, clean the plates
gain-more_named = { NUM($unidentified_pct) } % of the passages have no name: look at the tag reader and its place
gain-more_standing = only { NUM($standing_pct) } % of the usable passages hold a stance: something to make her stand a few seconds would show more
gain-longer_standing = she stands { NUM($seconds, digits: 1) } s, and { NUM($from_sway_pct) } % of the spread within a day is her sway in so short a time: a longer stand would show more
gain-more_often = most cows come once a day: a second passage a day would show more
gain-nothing_to_gain = nothing stands out: what spread there is comes from the cows themselves
quality-two_animals = two animals on the plates
quality-foot_across = a foot on two plates
quality-no_stance = no stance
quality-too_short = too short
quality-backed_out = backed out
quality-saturated = a load cell at its end
quality-lost_readings = readings lost
quality-ringing = plates ringing
quality-too_light = too light for a cow
quality-stuck_plate = a stuck plate
quality-cut_off = cut off
quality-zero_unsure = an unsure zero
quality-feet_unsure = feet not told apart
quality-implausible = values no cow can give
step-ask-weight = Known weight, kg
step-clean = Clean the plates. Nothing and nobody on them or leaning on them
step-known-weight = Put { $kg } kg on the middle of plate { $plate }, nothing on the others
step-corner = Check (may be skipped): the same weight on an outer corner of plate { $plate }
step-finish = Take the weight off. Put the new calibration in force?
step-verify = Put { $kg } kg on { $place ->
    [corner] an outer corner
   *[other] the middle
} of plate { $plate }, nothing on the others
step-given-up = Given up: the old calibration stays in force.
step-in-force = The new calibration is in force; the device starts afresh with it.
step-needed = This one cannot be left out.
step-busy = The device takes what lies on the plates for an animal. Clear them, wait a moment.
step-answer-done = Done
step-answer-skip = Skip
step-answer-stop = Stop
step-checked = { $right ->
    [yes] Right: { NUM($shown, digits: 2) } kg shown for { $kg } kg.
   *[no] { NUM($shown, digits: 2) } kg shown for { $kg } kg: too far off. See that the plate lies free on all its cells, then begin again.
}
step-outcome-accepted = Accepted.
step-outcome-not_steady = It was not steady. See that nobody touches the plates and nothing swings; wait for the wind.
step-outcome-wrong_load = Another load than said: the weight lies on another plate, two cables are swapped, the plates are not empty, or the weight is not from 20 to 1,000 kg.
step-outcome-bad_channel = A plate is at its end stop or gives no readings: take the load off, then check cell and cable.
step-outcome-out_of_order = A step before this one is missing; the device may have started afresh. Begin again.
step-outcome-bad_result = The plates cannot be told apart, or a result is out of range. Begin again.
step-outcome-not_stored = The device could not write it down: the old calibration stays. Its flash may be worn.
step-outcome-aborted = Given up: the old calibration stays in force.
step-column-plate = plate
step-column-place = where
step-column-shown = shown kg
step-column-error = error kg
step-column-limit = limit kg
step-column-within = within
step-middle = middle
step-corner-place = corner
step-within = yes
step-beyond = no
step-limits = Limits: OIML R 76-1, class III, interval 1 kg, at the first verification; in service twice that. A lane is no scale for trade all the same.
step-paired = Paired: device { $device } hears only this store from now on, and over a network nothing else is believed in its name. The key lies in the store and its backups; a store without it cannot speak to the device.
step-not-paired = Device { $device } is not paired: by cable anybody can read it, and over a network it is not believed.
program-cautions = Between two milkings only: while the device starts afresh no passage is weighed and a gate behind the lane rests. Keep its power on.
program-cow = A cow is on the plates: it goes on when she has left.
program-starts = All is there. The device starts with the new program and tries it; that can take a minute.
program-up = Device { $device } runs version { $version }, and keeps it.
program-fell-back = The new program did not come up. Device { $device } runs version { $version } again, as before.
program-on-trial = Device { $device } runs version { $version } on trial, but its plates give no readings. Unless they do within ten minutes of its start, the program before comes back.
page-live = As they leave
page-live-again = Look again
page-live-time = time
page-live-cow = cow
page-live-said = so far today, against her own
page-live-none = No cow has come through yet.
page-live-note = Provisional: what counts is the list of the day.
live-nobody = not identified, or not judged yet
live-unknown = ?
live-not-usable = not usable: { $commonest }
live-at-the-lane = { $cow }, by this passage alone: { $said }
live-title = { $time } { $cow }: { $said }
step-caution-cattle = Close the lane at both ends and see that no animal can reach you. Never stand on the deck or put weights on it with cattle in the lane or behind you; have somebody with you, and a way out.
step-caution-mains = Keep to the low-voltage side. Open no mains supply; if water has got into a box, switch off and call an electrician.
step-caution-lift = Lift with two, or use a barrow. Lower a weight gently: a dropped one breaks cells and feet.
step-caution-trade = A calibrated lane is still no scale for trade.
step-safe = No animal can reach the plates, and somebody is with me
step-begin = Clean and empty: begin
step-give-up = Give up: keep the old calibration
step-waits = The device is measuring: touch nothing for a few seconds.
step-skipped = Left out.
step-no-answer = The device did not answer. See that it is connected and that `fourplate listen` runs at it, then do this step again.
step-cautions = Before you go to the plates:
gate-title = Held back on { LONG_DAY($date) } from { $from } to { $until }, { $most } at most
gate-no-hours = Nobody is held back: the farm has said no hours (fourplate farm gate_hours=05:00-09:00). These would be:
gate-cow = { $cow }: { $reasons }{ $why ->
    [none] {""}
   *[other] , { $why }
}{ $tag ->
    [yes] {""}
   *[no] ; no tag of 15 digits: no gate knows her
}
gate-nobody = Nobody is to be held back.
gate-state = Lane { $lane }: { $heard ->
    [none] nothing heard of its gate
   *[other] at { $heard } { $gate ->
        [yes] its gate { $force ->
            [yes] had a list of { $listed } in force
           *[no] was at rest
        }
       *[no] it had no gate
    }{ $table ->
        [yes] ; it judges cows as they leave
       *[no] {""}
    }
}
gate-came = At the gate
gate-event = { $time } { $cow }: { $outcome }
gate-reason-hand = by hand
gate-reason-urgent = urgent
gate-reason-dressing = dressing to come off
gate-reason-recheck = foot to be looked at again
gate-reason-booked = booked for the trimmer
gate-outcome-held = held back
gate-outcome-held_before = let by: held back before in these hours
gate-outcome-enough = let by: as many as were wanted are held back
gate-outcome-not_confirmed = let by: the device had just started and waited for this computer
gate-outcome-over = let by: the hours were over
gate-outcome-host_silent = let by: this computer had not been heard for too long
gate-outcome-clock_unsure = let by: the clocks of device and computer no longer agreed
gate-outcome-reader_silent = let by: the tag reader had missed several cows before her
gate-outcome-name_unsure = let by: another tag was read with hers
gate-outcome-two_on_deck = let by: more than one animal on the plates
gate-outcome-first_plates = let by: somebody stood on the first plates
gate-outcome-plates_unsure = let by: the plates read nothing, or not surely
gate-outcome-busy = let by: the gate was still moved for the cow before
gate-outcome-stopped = let by: the stop input was open
gate-outcome-not_kept = let by: the device could not write it down
gate-held = { $cow } is held back at the gate until { LONG_DAY($date) }.
gate-held-no-hours = The farm has said no hours, so no gate moves yet: fourplate farm gate_hours=05:00-09:00.
gate-released = { $cow } is no longer held back by hand.
gate-not-held = { $cow } was not held back by hand.
gate-set = Device { $device } drives a gate.
gate-none = Device { $device } drives no gate.
caution-gate = A gate that moves hurts cattle and people. Nobody stands in its way, the stop is within reach of whoever works there, and guards and interlocks are the installer's and local rules'.
