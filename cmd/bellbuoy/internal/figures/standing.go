package figures

import (
	"context"

	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// Standing is how a shop stands today, in the figures that the shops of a group are
// set side by side with.
type Standing struct {
	Repeat, Other Pair     // of the running season, and of the same one last year to the same day
	InCare        Figure   // boats in care when the season began
	Returned      RateCell // boats of all years of sale that came in the running season
	ReturnedLast  RateCell // the same of the last whole season of the same half
	Booked        Figure   // visits booked for this week or later
	Due, Overdue  int      // visits of this week's due list
}

// dueMost is where the counts of the due list end: more than any shop has.
const dueMost = 1_000_000

// Standing counts how the shop stands.
func (l *Ledger) Standing(ctx context.Context) (*Standing, error) {
	c, err := l.Comparison(ctx)
	if err != nil {
		return nil, err
	}
	s := &Standing{Repeat: c.Repeat, Other: c.Other}
	inCare, err := l.passages(ctx, c.Season)
	if err != nil {
		return nil, err
	}
	s.InCare = Figure{Count: len(inCare), List: Query{List: ListSeason, Season: c.Season}}
	rates := l.Rates()
	all := rates.Rows[len(rates.Rows)-1]
	for i, season := range rates.Seasons {
		switch season {
		case c.Season:
			s.Returned = all.Cells[i]
		case returns.Season{Year: c.Season.Year - 1, Half: c.Season.Half}:
			s.ReturnedLast = all.Cells[i]
		}
	}
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	s.Booked.List = Query{List: ListVisits, Booked: "yes"}
	for i := range visits {
		if visits[i].Booked && standsFrom(&visits[i], l.Today.Week()) {
			s.Booked.Count++
		}
	}
	due, err := l.shop.DueWeek(ctx, report.WeekQuery{Week: l.Today.Week(), Today: l.Today, Limit: 1, Most: dueMost})
	for _, part := range due {
		switch part.Part {
		case report.WeekOverdue:
			s.Overdue = part.Count
		case report.WeekDue:
			s.Due = part.Count
		}
	}
	return s, err
}

// Sum is what several shops come to together. Its figures have no list: each shop
// has its own.
func Sum(shops []*Standing) *Standing {
	sum := new(Standing)
	for _, s := range shops {
		for _, x := range []struct {
			to *Figure
			of Figure
		}{
			{&sum.Repeat.Now, s.Repeat.Now}, {&sum.Repeat.Before, s.Repeat.Before}, {&sum.Other.Now, s.Other.Now}, {&sum.Other.Before, s.Other.Before},
			{&sum.InCare, s.InCare}, {&sum.Booked, s.Booked}, {&sum.Returned.Came, s.Returned.Came}, {&sum.Returned.Of, s.Returned.Of},
			{&sum.ReturnedLast.Came, s.ReturnedLast.Came}, {&sum.ReturnedLast.Of, s.ReturnedLast.Of},
		} {
			x.to.add(x.of.Count, x.of.Cents)
		}
		sum.Due += s.Due
		sum.Overdue += s.Overdue
	}
	return sum
}
