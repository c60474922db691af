package schedule

import (
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
)

// VisitWhy explains a visit's own time in a sentence, as [Planner.View] does,
// from the visit and its place alone: a list of many visits needs no boat's
// whole facts.
func (p *Planner) VisitWhy(v *Visit, pl Place) string {
	return p.wording(words.English, &Facts{Place: pl}).visit(v)
}

// weekReason is for the shop alone, and so in English only.
func (w wording) weekReason(v *Visit) string {
	if !w.inEnglish() {
		return ""
	}
	return v.WeekReason(w.in)
}

// WeekReason says in a sentence why a visit that nobody has booked is penciled
// for its week and not for the one that would suit it best or that it had; "" if
// there is nothing to say.
func (v *Visit) WeekReason(f words.Format) string {
	switch v.WeekWhy.Reason {
	case level.Kept, level.Wished, level.Soonest:
		return ""
	}
	if v.Booked() || v.Lapsed {
		return ""
	}
	return v.WeekWhy.Words(f)
}
