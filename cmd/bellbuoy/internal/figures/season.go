package figures

import (
	"context"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// reachNames are the steps of a season by name, and "" for any.
func reachNames() []string {
	names := []string{""}
	for r := returns.InCare; r <= returns.Done; r++ {
		names = append(names, r.String())
	}
	return names
}

// noStep names boats that had heard no reminder, anyStep those that had.
const noStep, anyStep = "none", "any"

// SeasonStage is one step of a season's funnel. Boats carries the number and
// the list price of their season visits.
type SeasonStage struct {
	Reach   returns.Reach  `json:"reach"`
	Boats   Figure         `json:"boats"`
	Skipped Figure         `json:"skipped"` // passed it without taking the step
	Paid    schedule.Cents `json:"paid"`
}

// SeasonTally is a part of a season's boats.
type SeasonTally struct {
	Name  string         `json:"name"` // a fate, or a step of reminding
	Boats Figure         `json:"boats"`
	Paid  schedule.Cents `json:"paid"`
}

// SeasonFunnel is a season from in care to done.
type SeasonFunnel struct {
	Season returns.Season `json:"season"`
	Kind   string         `json:"kind"` // [schedule.FitOut] or [schedule.LayUp]
	// Known is false while the season's first day has not been worked out.
	Known  bool          `json:"known"`
	Stages []SeasonStage `json:"stages"`
	Fates  []SeasonTally `json:"fates"`
	Steps  []SeasonTally `json:"steps"` // by the last reminder heard before they answered or came
}

// SeasonKind is the visit that a season is about.
func SeasonKind(s returns.Season) string {
	if s.Half == returns.Spring {
		return schedule.FitOut
	}
	return schedule.LayUp
}

// Funnel counts how far the boats that were in care when a season began have
// got in it.
func (l *Ledger) Funnel(ctx context.Context, s returns.Season) (*SeasonFunnel, error) {
	out := &SeasonFunnel{Season: s, Kind: SeasonKind(s)}
	days, err := report.OutlookDays(ctx, l.shop.DB)
	if err != nil || !slices.Contains(days, s.First()) {
		return out, err
	}
	out.Known = true
	all, err := l.passages(ctx, s)
	if err != nil {
		return nil, err
	}
	facts := make([]returns.Passage, len(all))
	for i := range all {
		facts[i] = all[i].Passage
	}
	f := returns.CountFunnel(facts)
	list := func(change func(*Query)) Query {
		q := Query{List: ListSeason, Season: s}
		change(&q)
		return q
	}
	for _, st := range f.Stages {
		out.Stages = append(out.Stages, SeasonStage{
			Reach: st.Reach, Paid: st.Paid,
			Skipped: Figure{Count: st.Skipped, Cents: st.SkippedList, List: list(func(q *Query) { q.Reach, q.Skipped = st.Reach.String(), "yes" })},
			Boats:   Figure{Count: st.Boats, Cents: st.List, List: list(func(q *Query) { q.Reach = st.Reach.String() })},
		})
	}
	for _, fate := range returns.Fates() {
		t := f.Fates[fate]
		out.Fates = append(out.Fates, SeasonTally{string(fate), Figure{Count: t.Boats, Cents: t.List, List: list(func(q *Query) { q.Fate = string(fate) })}, t.Paid})
	}
	for _, step := range []string{string(schedule.StepInvitation), string(schedule.StepNudge), string(schedule.StepLastCall), string(schedule.StepOverdue), ""} {
		t := f.ByStep[step]
		name := step
		if step == "" {
			name = noStep
		}
		out.Steps = append(out.Steps, SeasonTally{name, Figure{Count: t.Boats, Cents: t.List, List: list(func(q *Query) { q.Step, q.Reach = name, returns.Answered.String() })}, t.Paid})
	}
	return out, nil
}

// passage is a boat's way through a season and who had it then.
type passage struct {
	returns.Passage
	tenure int
}

// passages gathers the ways of all boats that were in care on a season's first
// day, in order of boat.
func (l *Ledger) passages(ctx context.Context, s returns.Season) ([]passage, error) {
	kind := SeasonKind(s)
	visits, err := report.SeasonOutlook(ctx, l.shop.DB, s.First(), kind, s.Year)
	if err != nil {
		return nil, err
	}
	marks, err := report.SeasonMarks(ctx, l.shop.DB, s.First(), kind, s.Year)
	if err != nil {
		return nil, err
	}
	done, err := report.DoneDays(ctx, l.shop.DB, kind, s.First(), min(s.Last(), l.Today))
	if err != nil {
		return nil, err
	}
	var all []passage
	at := make(map[string]int)
	for i := range l.histories {
		h := &l.histories[i]
		if h.Holds(s.First()) && h.Sold <= s.First() {
			at[h.Boat] = len(all)
			_, paid := l.inSeason(h, s)
			lost := h.End != 0 && h.End <= min(s.Last(), l.Today)
			all = append(all, passage{returns.Passage{Boat: h.Boat, Paid: paid, Lost: lost}, i})
		}
	}
	for _, v := range visits {
		if i, ok := at[v.BoatID]; ok {
			all[i].Due, all[i].List = true, v.List
		}
	}
	days := l.addDone(all, at, done)
	l.enterMarks(all, at, marks, days)
	return all, nil
}

// addDone notes who has done the season's work, and returns the day on which
// the shop did.
func (l *Ledger) addDone(all []passage, at map[string]int, done []report.DoneDay) map[string]civil.Day {
	days := make(map[string]civil.Day)
	for _, d := range done {
		i, ok := at[d.BoatID]
		if !ok || !l.histories[all[i].tenure].Holds(d.Day) {
			continue
		}
		switch d.By {
		case schedule.ByShop:
			all[i].Done = true
			if days[d.BoatID] == 0 {
				days[d.BoatID] = d.Day
			}
		case schedule.ByElsewhere:
			all[i].Elsewhere = true
		}
	}
	return days
}

// enterMarks notes what was said about each visit, and the last reminder that
// its customer had heard when they answered or came.
func (l *Ledger) enterMarks(all []passage, at map[string]int, marks []report.SeasonMark, moved map[string]civil.Day) {
	zone := l.shop.Config.Zone()
	for _, m := range marks {
		i, ok := at[m.BoatID]
		if !ok || m.CustomerID != "" && m.CustomerID != l.histories[all[i].tenure].Customer {
			continue
		}
		p := &all[i].Passage
		switch m.Way {
		case report.MarkNotified:
			p.Invited = p.Invited || isLadder(m.What)
			continue
		case report.MarkBooked:
			p.Booked = true
			continue
		case report.MarkAnswer:
			p.Answered = true
			p.Booked = p.Booked || m.What == string(schedule.AnswerTake)
			p.Declined = p.Declined || m.What == string(schedule.AnswerDecline)
		case report.MarkCall:
			if m.What == store.CallNoAnswer || m.What == store.CallMessage {
				continue
			}
			p.Answered = true
			p.Booked = p.Booked || m.What == store.CallBooked
			p.Declined = p.Declined || m.What == store.CallDeclined
		}
		if d := civil.FromTime(m.At.In(zone)); moved[m.BoatID] == 0 || d < moved[m.BoatID] {
			moved[m.BoatID] = d
		}
	}
	last := make(map[string]civil.Day)
	for _, m := range marks {
		i, ok := at[m.BoatID]
		if !ok || m.Way != report.MarkNotified || !isLadder(m.What) || m.CustomerID != l.histories[all[i].tenure].Customer {
			continue
		}
		until := moved[m.BoatID]
		if until == 0 {
			until = l.Today
		}
		if m.Day <= until && m.Day >= last[m.BoatID] {
			last[m.BoatID], all[i].Step = m.Day, m.What
		}
	}
}

// isLadder reports whether a step is one of reminding, not of confirming.
func isLadder(step string) bool {
	switch schedule.Step(step) {
	case schedule.StepInvitation, schedule.StepNudge, schedule.StepLastCall, schedule.StepOverdue:
		return true
	}
	return false
}

// listSeason lists boats on their way through a season. The total is at list
// price.
func (l *Ledger) listSeason(ctx context.Context, t *Table) error {
	s := t.Query.Season
	if s.Year == 0 {
		s = returns.SeasonOf(l.Today)
	}
	t.Title = s.Title() + ", boat by boat"
	t.About = "Boats in care on " + l.shop.Config.Format().Date(s.First()) + ", when the season began, and what has become of their " + strings.ToLower(schedule.VisitTitle(SeasonKind(s))) + "."
	t.Columns = columns("Boat", "Boat id", "Customer", "Reached", "What became of it", "Last reminder before", "Paid in the season:m", "List price:m")
	all, err := l.passages(ctx, s)
	if err != nil {
		return err
	}
	least := returns.Reach(max(0, slices.Index(reachNames(), t.Query.Reach)-1))
	for i := range all {
		p := &all[i]
		step := p.Step
		if step == "" {
			step = noStep
		}
		if p.Reach() < least || t.Query.Skipped != "" && !p.Skipped(least) || t.Query.Fate != "" && t.Query.Fate != string(p.Fate()) || t.Query.Step != "" && t.Query.Step != step && (t.Query.Step != anyStep || step == noStep) {
			continue
		}
		x := &l.tenures[p.tenure]
		t.row(p.Boat, x.Boat.Title(), p.Boat, x.Customer.Name, p.Reach().String(), string(p.Fate()), step, p.Paid, p.List)
	}
	return nil
}

// fateNames are what can become of a boat in a season, or of the check before a
// warranty ends, and "" for any.
func fateNames() []string {
	names := []string{"", checkInTime, checkLate, checkMissed, checkOpen}
	for _, f := range returns.Fates() {
		names = append(names, string(f))
	}
	return names
}
