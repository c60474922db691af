package schedule

// VisitWhy explains a visit's own time in a sentence, as [Planner.View] does,
// from the visit and its place alone: a list of many visits needs no boat's
// whole facts.
func VisitWhy(v *Visit, pl Place) string {
	return wording{f: &Facts{Place: pl}}.visit(v)
}
