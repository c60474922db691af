package level

// Fit gives every job a week. It is deterministic: equal input gives an equal
// plan, whatever the order of weeks and jobs, as long as the jobs' IDs differ.
// Weeks that are absent or have no capacity are closed; a week given twice
// counts once, with the sums of both. The weeks should reach to the last
// deadline: a job that could wait until after them is fitted into them, and only
// if that fails is left out, which is no shortfall.
//
// Fitting a plan again with its own weeks as Prior moves nothing.
func Fit(weeks []Week, jobs []Job) Result {
	b := newBoard(weeks, jobs)
	b.setCeilings()
	b.keepPrior()
	b.fill()
	b.followWishes()
	b.settle()
	atRisk := b.atRisk()
	short := b.shortfalls(atRisk)
	b.placeLate()
	return b.result(atRisk, short)
}
