package figures

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/words"
)

// MonthlyReport is what the owner is told about a month: a few sentences, each with
// the list that it is counted from, and three things worth doing.
type MonthlyReport struct {
	Shop  string        `json:"shop"`
	Month returns.Month `json:"month"` // the month just ended
	Lines []ReportLine  `json:"lines"`
	Do    []ReportLine  `json:"do"`
}

// ReportLine is one sentence of it.
type ReportLine struct {
	Words string `json:"words"`
	List  Query  `json:"list"`
	Label string `json:"label"` // what the link to the list says, also without the sentence
}

// thingsToDo is how many suggestions a letter makes.
const thingsToDo = 3

// MonthlyReport writes the report about the last whole month.
func (l *Ledger) MonthlyReport(ctx context.Context) (*MonthlyReport, error) {
	f, err := l.figures(ctx)
	if err != nil {
		return nil, err
	}
	return l.letter(f), nil
}

func (l *Ledger) letter(f *figures) *MonthlyReport {
	out := &MonthlyReport{Shop: l.shop.Config.Shop.Name, Month: returns.MonthOf(l.Today) - 1}
	out.Lines = slices.Concat(l.moneyLines(out.Month, f.revenue), l.rateLines(), l.funnelLines(f.season), l.aheadLines(f.ahead), l.partLines(f.work))
	do := slices.Concat(l.awayThings(f.away), l.seasonThings(f.season), l.checkThings(f.work), l.weekThings(f.work), l.serviceThings(f.revenue))
	slices.SortStableFunc(do, func(a, b suggestion) int { return cmp.Compare(b.value, a.value) })
	for _, x := range do[:min(thingsToDo, len(do))] {
		out.Do = append(out.Do, x.ReportLine)
	}
	return out
}

func (l *Ledger) money(c schedule.Cents) string {
	return l.shop.Config.Format().WholeMoney(c)
}

// against words an amount beside another: "12 % more than".
func against(now, before schedule.Cents) string {
	if before == 0 {
		return "nothing to compare with"
	}
	change := 100 * float64(now-before) / float64(before)
	switch {
	case change >= 0.5:
		return fmt.Sprintf("%.0f%% more", change)
	case change <= -0.5:
		return fmt.Sprintf("%.0f%% less", -change)
	}
	return "as much"
}

func (l *Ledger) moneyLines(m returns.Month, r *Revenue) []ReportLine {
	var lines []ReportLine
	if _, x := r.month(m); x != nil {
		lines = append(lines, ReportLine{fmt.Sprintf("In %s repeat service on boats that we sold brought %s (a year before: %s); other work brought %s.",
			m.Title(), l.money(x.Repeat.Cents), l.money(x.Before.Cents), l.money(x.Other.Cents)), x.Repeat.List, "Paid work in " + m.Title() + " on boats we sold"})
	}
	return append(lines, ReportLine{fmt.Sprintf("This year so far it is %s, against %s to the same day last year: %s.",
		l.money(r.Repeat.Cents), l.money(r.RepeatBefore.Cents), against(r.Repeat.Cents, r.RepeatBefore.Cents)), r.Repeat.List, "Paid work this year on boats we sold"})
}

func (l *Ledger) rateLines() []ReportLine {
	r := l.Rates()
	if len(r.Seasons) == 0 {
		return nil
	}
	all := r.Rows[len(r.Rows)-1]
	at := len(r.Seasons) - 1
	c := all.Cells[at]
	if c.Of.Count == 0 {
		return nil
	}
	words := fmt.Sprintf("Sold before %s and still with their buyers: %s; %d (%.0f%%) have been in during it so far.",
		seasonWords(r.Seasons[at]), words.Count(c.Of.Count, "boat"), c.Came.Count, 100*c.Rate)
	return []ReportLine{{words, c.Of.List, "Boats sold before " + seasonWords(r.Seasons[at])}}
}

func seasonWords(s returns.Season) string {
	return "the " + string(s.Half) + " of " + fmt.Sprint(s.Year)
}

func (l *Ledger) funnelLines(f *SeasonFunnel) []ReportLine {
	if !f.Known {
		return nil
	}
	due, done := f.Stages[returns.IsDue], f.Stages[returns.Done]
	words := fmt.Sprintf("%s began with %s due for %s; %d are done, %d of the others are booked.", f.Season.Title(),
		words.Count(due.Boats.Count, "boat"), strings.ToLower(schedule.VisitTitle(f.Kind)), done.Boats.Count, f.fate(returns.FateBooked).Boats.Count)
	return []ReportLine{{words, due.Boats.List, f.Season.Title() + ", boat by boat"}}
}

// fate is the part of the season's boats of one fate.
func (f *SeasonFunnel) fate(x returns.Fate) SeasonTally {
	for _, t := range f.Fates {
		if t.Name == string(x) {
			return t
		}
	}
	return SeasonTally{}
}

func (l *Ledger) aheadLines(e *Expectation) []ReportLine {
	words := fmt.Sprintf("The visits of the next twelve months should bring about %s (likely range, 4 in 5: %s to %s). This is an estimate.",
		l.money(e.Whole.Expected), l.money(e.Whole.Low), l.money(e.Whole.High))
	return []ReportLine{{words, e.Whole.Figure.List, "Visits expected"}}
}

// partLines tells what the parts of the coming weeks cost, if the shop gave
// buying prices.
func (l *Ledger) partLines(w *Workload) []ReportLine {
	p := &w.Parts
	if p.Whole.Cents == 0 {
		return nil
	}
	words := fmt.Sprintf("The parts for the visits until %s cost %s if every boat comes, about %s by each boat's chance.", l.shop.Config.Format().Date(p.To.Sunday()), l.money(p.Whole.Cents), l.money(p.Expected))
	return []ReportLine{{words, p.Whole.List, "Parts for the coming visits"}}
}

// suggestion is something worth doing, by what may hang on it.
type suggestion struct {
	ReportLine
	value schedule.Cents
}

// mostAwayCalls is how many of those who lapsed are worth calling at once.
const mostAwayCalls = 10

func (l *Ledger) awayThings(away []Away) []suggestion {
	var names []string
	var worth schedule.Cents
	n := 0
	for i := range away {
		if away[i].Wished || n == mostAwayCalls {
			continue
		}
		n++
		worth += away[i].Yearly
		if n <= 3 {
			names = append(names, fmt.Sprintf("%s (%s, last here %s)", away[i].Customer.Name, away[i].Boat.Title(), l.shop.Config.Format().Date(away[i].LastDay)))
		}
	}
	if n == 0 {
		return nil
	}
	words := fmt.Sprintf("Call %s that have lapsed, worth about %s a year when they came: first %s.", words.Count(n, "customer"), l.money(worth), strings.Join(names, "; "))
	// Lost boats seldom all come back; a quarter is common practice, no source.
	return []suggestion{{ReportLine{words, Query{List: ListAway}, "Lapsed boats"}, worth / 4}}
}

// seasonThings speaks of a season's silent boats while something can still be
// done about them.
func (l *Ledger) seasonThings(f *SeasonFunnel) []suggestion {
	if !f.Known {
		return nil
	}
	var out []suggestion
	for _, x := range []struct {
		fate         returns.Fate
		words, label string
	}{
		{returns.FateSilent, "%s due for %s were reminded and have not replied; at list price that is %s. Call the largest ones first.", "Boats reminded, no reply"},
		{returns.FateUntold, "%s due for %s have not been reminded yet; at list price that is %s. See who cannot be reached by email.", "Boats not reminded"},
	} {
		if t := f.fate(x.fate); t.Boats.Count > 0 {
			words := fmt.Sprintf(x.words, words.Count(t.Boats.Count, "boat"), strings.ToLower(schedule.VisitTitle(f.Kind)), l.money(t.Boats.Cents))
			out = append(out, suggestion{ReportLine{words, t.Boats.List, x.label}, t.Boats.Cents / 2})
		}
	}
	return out
}

// checkThings puts a check that may save an engine before money: a fault found
// after the last day is nobody's warranty.
func (l *Ledger) checkThings(w *Workload) []suggestion {
	for _, c := range w.Checks {
		if c.Fate == checkOpen && c.Boats.Count > 0 {
			words := fmt.Sprintf("The engine warranty of %s that we sold ends within three months and the check is not done. Call them in.", words.Count(c.Boats.Count, "boat"))
			return []suggestion{{ReportLine{words, c.Boats.List, "Checks before the warranty ends"}, schedule.Cents(c.Boats.Count) * 100_000}}
		}
	}
	return nil
}

func (l *Ledger) weekThings(w *Workload) []suggestion {
	var over []string
	var list Query
	minutes := 0
	for _, x := range w.Weeks {
		if x.Ahead.Minutes > x.Capacity {
			over = append(over, l.shop.Config.Format().Date(x.Week.Monday()))
			minutes += x.Ahead.Minutes - x.Capacity
			list = x.Ahead.List
		}
	}
	if len(over) == 0 {
		return nil
	}
	words := fmt.Sprintf("%s ahead have more work than hours, %s h too much: from %s. Move visits or find help.", words.Count(len(over), "shop week"), schedule.Hours(minutes/6), strings.Join(over, ", "))
	return []suggestion{{ReportLine{words, list, "Visits in the week of " + over[len(over)-1]}, schedule.Cents(minutes) * 150}}
}

// serviceThings names the service that fell behind most.
func (l *Ledger) serviceThings(r *Revenue) []suggestion {
	var worst *ServiceRevenue
	for i := range r.Services {
		s := &r.Services[i]
		if fell := s.Before.Cents - s.Now.Cents; fell > 0 && (worst == nil || fell > worst.Before.Cents-worst.Now.Cents) {
			worst = s
		}
	}
	if worst == nil {
		return nil
	}
	words := fmt.Sprintf("%s brought %s this year, against %s to the same day last year. See whether it was not due, not offered, or not wanted.",
		worst.Title, l.money(worst.Now.Cents), l.money(worst.Before.Cents))
	return []suggestion{{ReportLine{words, worst.Now.List, worst.Title + ", paid this year"}, worst.Before.Cents - worst.Now.Cents}}
}

// Day is the day on which a letter about a month is written.
func (x *MonthlyReport) Day() civil.Day { return (x.Month + 1).First() }
