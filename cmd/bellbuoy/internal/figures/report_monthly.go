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
	// Parts are the same words, each figure with its list.
	Parts []ReportPart `json:"-"`
}

// ReportPart is a run of a sentence's words: a figure with the list that it is
// counted from, one that has none, or plain words.
type ReportPart struct {
	Text   string
	List   Query
	Name   string // of the figure, where its text is only a number
	NoList string // why a figure has no list: "rate", "estimate", "average", "sum" or "name"
}

// sentence fills each %s of a format with plain words or a [ReportPart].
func sentence(list Query, label, format string, parts ...any) ReportLine {
	x := ReportLine{List: list, Label: label}
	for i, plain := range strings.Split(format, "%s") {
		if i > 0 {
			if p, ok := parts[i-1].(ReportPart); ok {
				x.Parts = append(x.Parts, p)
			} else {
				x.Parts = append(x.Parts, ReportPart{Text: fmt.Sprint(parts[i-1])})
			}
		}
		x.Parts = append(x.Parts, ReportPart{Text: plain})
	}
	for _, p := range x.Parts {
		x.Words += p.Text
	}
	return x
}

// count is a figure's count as part of a sentence, amount its money.
func count(f *Figure, thing string) ReportPart {
	return ReportPart{Text: words.Count(f.Count, thing), List: f.List}
}

func (l *Ledger) amount(f *Figure, name string) ReportPart {
	return ReportPart{Text: l.money(f.Cents), List: f.List, Name: name}
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
		lines = append(lines, sentence(x.Repeat.List, "Paid work in "+m.Title()+" on boats we sold",
			"In %s repeat service on boats that we sold brought %s (a year before: %s); other work brought %s.",
			m.Title(), l.amount(&x.Repeat, "repeat service"), l.amount(&x.Before, "repeat service a year before"), l.amount(&x.Other, "other work")))
	}
	return append(lines, sentence(r.Repeat.List, "Paid work this year on boats we sold", "This year so far it is %s, against %s to the same day last year: %s.",
		l.amount(&r.Repeat, "repeat service this year"), l.amount(&r.RepeatBefore, "repeat service last year"), ReportPart{Text: against(r.Repeat.Cents, r.RepeatBefore.Cents), NoList: "rate"}))
}

func (l *Ledger) rateLines() []ReportLine {
	r := l.Rates()
	if len(r.Seasons) == 0 {
		return nil
	}
	all := r.Rows[len(r.Rows)-1]
	at := len(r.Seasons) - 1
	c := &all.Cells[at]
	if c.Of.Count == 0 {
		return nil
	}
	season := fmt.Sprintf("the %s of %d", r.Seasons[at].Half, r.Seasons[at].Year)
	return []ReportLine{sentence(c.Of.List, "Boats sold before "+season, "Sold before %s and still with their buyers: %s; %s (%s) have been in during it so far.",
		season, count(&c.Of, "boat"), ReportPart{Text: fmt.Sprint(c.Came.Count), List: c.Came.List, Name: "have been in"}, ReportPart{Text: fmt.Sprintf("%.0f%%", 100*c.Rate), NoList: "rate"})}
}

func (l *Ledger) funnelLines(f *SeasonFunnel) []ReportLine {
	if !f.Known {
		return nil
	}
	due, done, booked := &f.Stages[returns.IsDue].Boats, &f.Stages[returns.Done].Boats, f.fate(returns.FateBooked).Boats
	return []ReportLine{sentence(due.List, f.Season.Title()+", boat by boat", "%s began with %s due for %s; %s are done, %s of the others are booked.",
		f.Season.Title(), count(due, "boat"), strings.ToLower(schedule.VisitTitle(f.Kind)),
		ReportPart{Text: fmt.Sprint(done.Count), List: done.List, Name: "done"}, ReportPart{Text: fmt.Sprint(booked.Count), List: booked.List, Name: "booked"})}
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
	return []ReportLine{sentence(e.Whole.Figure.List, "Visits expected",
		"The visits of the next twelve months should bring about %s (%s). This is an estimate.",
		l.amount(&e.Whole.Figure, "expected"), ReportPart{Text: "likely range, 4 in 5: " + l.money(e.Whole.Low) + " to " + l.money(e.Whole.High), NoList: "estimate"})}
}

// partLines tells what the parts of the coming weeks cost, if the shop gave
// buying prices.
func (l *Ledger) partLines(w *Workload) []ReportLine {
	p := &w.Parts
	if p.Whole.Cents == 0 {
		return nil
	}
	return []ReportLine{sentence(p.Whole.List, "Parts for the coming visits",
		"The parts for the visits until %s cost %s if every boat comes, about %s by each boat's chance.",
		l.shop.Config.Format().Date(p.To.Sunday()), l.amount(&p.Whole, "parts"), ReportPart{Text: l.money(p.Expected), List: p.Whole.List, Name: "parts by chance"})}
}

// suggestion is something worth doing, by what may hang on it.
type suggestion struct {
	ReportLine
	value schedule.Cents
}

// mostAwayCalls is how many of those who lapsed are worth calling at once, and
// mostAwayNamed how many a sentence names.
const mostAwayCalls, mostAwayNamed = 10, 3

// awayThings puts those who lapsed and are not on the call list forward, the ones
// worth most by name.
func (l *Ledger) awayThings(away []Away) []suggestion {
	all := Figure{List: Query{List: ListAway, Wished: "no"}}
	var names []string
	var worth schedule.Cents
	for i := range away {
		if away[i].Wished {
			continue
		}
		if all.Count < mostAwayCalls {
			worth += away[i].Yearly
		}
		if all.Count < mostAwayNamed {
			names = append(names, fmt.Sprintf("%s (%s, last here %s)", away[i].Customer.Name, away[i].Boat.Title(), l.shop.Config.Format().Date(away[i].LastDay)))
		}
		all.add(1, away[i].Yearly)
	}
	if all.Count == 0 {
		return nil
	}
	line := sentence(all.List, "Lapsed boats", "Call the owners of %s that have lapsed, worth about %s a year when they came: first %s.",
		count(&all, "boat"), l.amount(&all, "worth a year"), ReportPart{Text: strings.Join(names, "; "), NoList: "name"})
	// Lost boats seldom all come back; a quarter of those worth a call at once is
	// common practice, no source.
	return []suggestion{{line, worth / 4}}
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
			line := sentence(t.Boats.List, x.label, x.words, count(&t.Boats, "boat"), strings.ToLower(schedule.VisitTitle(f.Kind)), l.amount(&t.Boats, "at list price"))
			out = append(out, suggestion{line, t.Boats.Cents / 2})
		}
	}
	return out
}

// checkThings puts a check that may save an engine before money: a fault found
// after the last day is nobody's warranty.
func (l *Ledger) checkThings(w *Workload) []suggestion {
	for _, c := range w.Checks {
		if c.Fate == checkOpen && c.Boats.Count > 0 {
			line := sentence(c.Boats.List, "Checks before the warranty ends",
				"The engine warranty of %s that we sold ends within three months and the check is not done. Call them in.", count(&c.Boats, "boat"))
			return []suggestion{{line, schedule.Cents(c.Boats.Count) * 100_000}}
		}
	}
	return nil
}

func (l *Ledger) weekThings(w *Workload) []suggestion {
	var over []any
	minutes := 0
	for _, x := range w.Weeks {
		if x.Ahead.Minutes > x.Capacity {
			monday := l.shop.Config.Format().Date(x.Week.Monday())
			over = append(over, ReportPart{Text: monday, List: x.Ahead.List})
			minutes += x.Ahead.Minutes - x.Capacity
		}
	}
	if len(over) == 0 {
		return nil
	}
	last := over[len(over)-1].(ReportPart)
	line := sentence(last.List, "Visits in the week of "+last.Text,
		"%s ahead have more work than hours, %s too much: from "+strings.Join(slices.Repeat([]string{"%s"}, len(over)), ", ")+". Move visits or find help.",
		append([]any{ReportPart{Text: words.Count(len(over), "shop week"), NoList: "sum"}, ReportPart{Text: schedule.Hours(minutes/6).String() + " h", NoList: "sum"}}, over...)...)
	return []suggestion{{line, schedule.Cents(minutes) * 150}}
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
	line := sentence(worst.Now.List, worst.Title+", paid this year",
		"%s brought %s this year, against %s to the same day last year. See whether it was not due, not offered, or not wanted.",
		worst.Title, l.amount(&worst.Now, "this year"), l.amount(&worst.Before, "last year"))
	return []suggestion{{line, worst.Before.Cents - worst.Now.Cents}}
}

// Day is the day on which a letter about a month is written.
func (x *MonthlyReport) Day() civil.Day { return (x.Month + 1).First() }
