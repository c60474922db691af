package level

import "bellbuoy/schedule/civil"

// Place puts one job into the load as it stands, which the caller gives in
// Booked: booked and pencilled minutes together, the job's own not among them.
// It moves nothing else and costs one look at each week, so it serves a re-plan
// after one change. level is the share of its capacity that a week should hold
// at most ([Result.Level] of the plan that it joins).
//
// The job keeps its earlier week while that has hours for it. Else it takes the
// week nearest to its wish (without one: the earliest) that stays within level;
// if there is none, the emptiest week that stays within capacity. False means
// that no week in time can hold it without moving others: run [Fit].
func Place(weeks []Week, job Job, level float64) (civil.Week, bool) {
	var calm, tight civil.Week
	calmOff, tightUse := 0, 0.0
	for _, w := range weeks {
		load := max(w.Booked, 0) + max(job.Minutes, 0)
		if w.Week < job.First || w.Week > job.Deadline || w.Capacity <= 0 || load > w.Capacity {
			continue
		}
		if w.Week == job.Prior {
			return w.Week, true
		}
		use := float64(load) / float64(w.Capacity)
		if off := distance(job, w.Week); use <= level && (calm == 0 || off < calmOff || off == calmOff && w.Week < calm) {
			calm, calmOff = w.Week, off
		}
		if tight == 0 || use < tightUse || use == tightUse && w.Week < tight {
			tight, tightUse = w.Week, use
		}
	}
	if calm != 0 {
		return calm, true
	}
	return tight, tight != 0
}

// distance is how many weeks a week lies from the one the job wishes for.
func distance(j Job, w civil.Week) int {
	wish := j.Wish
	if wish == 0 {
		wish = j.First
	}
	return max(int(w-wish), int(wish-w))
}
