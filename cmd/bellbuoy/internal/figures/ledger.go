package figures

import (
	"context"
	"maps"
	"slices"
	"sync"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// Ledger is what the owner's figures are counted from, read once: who had which
// boat, and on which days the shop worked on it. It changes nothing. It may be kept and
// asked by several at once for as long as [store.Reader.BooksMark] is the same: what
// depends on more than the books is read at each question.
type Ledger struct {
	Today civil.Day
	Since civil.Day      // the oldest record; none if there is none
	First returns.Season // the first season that the records cover whole

	mark         string // of the books as they are read here, see [store.Reader.BooksMark]
	shop         *app.App
	tenures      []report.Tenure
	histories    []returns.History // of the same numbers as tenures
	ofBoat       map[string][]int  // numbers of a boat's tenures, in order of time
	unattributed []report.ShopDay  // paid days that are nobody's return
	lastDay      map[string]civil.Day

	// chances are how likely boats are to come, by what is known today.
	chances func() *returns.Chances

	mu       sync.Mutex // guards what was read later or counted from the books alone, and is kept
	revenue  *Revenue
	services map[span][]report.ServiceDay
	timed    map[span][]app.TimedLine
	past     *pastChances
}

// Open reads the shop's books as they stand on a day.
func Open(ctx context.Context, h *app.App, today civil.Day) (*Ledger, error) {
	l, err := begin(ctx, h, today)
	if err != nil {
		return nil, err
	}
	if l.tenures, err = report.Tenures(ctx, h.DB); err != nil {
		return nil, err
	}
	places, err := h.Places(ctx)
	if err != nil {
		return nil, err
	}
	l.histories = make([]returns.History, len(l.tenures))
	for i := range l.tenures {
		t := &l.tenures[i]
		place := places.Of(t.Boat.Place)
		l.histories[i].Tenure = tenure(t, place.Freezes())
		l.ofBoat[t.Boat.ID] = append(l.ofBoat[t.Boat.ID], i)
	}
	days, err := report.ShopDays(ctx, h.DB, nil)
	if err != nil {
		return nil, err
	}
	l.add(days)
	return l, nil
}

// begin makes a ledger without its boats. The mark is read first: what changes while
// the books are read is then read again.
func begin(ctx context.Context, h *app.App, today civil.Day) (*Ledger, error) {
	l := &Ledger{Today: today, shop: h, ofBoat: make(map[string][]int), lastDay: make(map[string]civil.Day),
		services: make(map[span][]report.ServiceDay), timed: make(map[span][]app.TimedLine)}
	l.chances = sync.OnceValue(func() *returns.Chances { return returns.NewChances(l.histories, l.First, l.Today) })
	var err error
	if l.mark, err = h.DB.BooksMark(ctx); err != nil {
		return nil, err
	}
	if l.Since, err = report.FirstRecordDay(ctx, h.DB); err != nil {
		return nil, err
	}
	if l.Since == 0 {
		l.Since = today
	}
	if l.First = returns.SeasonOf(l.Since); l.First.First() < l.Since {
		l.First = l.First.Next()
	}
	return l, nil
}

// Reopen is [Open] for who has a ledger of before: if no more has changed than the work
// on some boats, theirs alone is read. It leaves before as it is; nil is none.
func Reopen(ctx context.Context, h *app.App, today civil.Day, before *Ledger) (*Ledger, error) {
	if before == nil || before.Today != today {
		return Open(ctx, h, today)
	}
	l, err := begin(ctx, h, today)
	if err != nil {
		return nil, err
	}
	boats, all, _, err := h.DB.WorkSince(ctx, before.mark)
	if err != nil {
		return nil, err
	}
	if all || len(boats) == 0 {
		return Open(ctx, h, today)
	}
	days, err := report.ShopDays(ctx, h.DB, boats)
	if err != nil {
		return nil, err
	}
	l.tenures, l.ofBoat = before.tenures, before.ofBoat
	l.histories, l.lastDay = slices.Clone(before.histories), maps.Clone(before.lastDay)
	changed := make(map[string]bool, len(boats))
	for _, b := range boats {
		changed[b] = true
		delete(l.lastDay, b)
		for _, i := range l.ofBoat[b] {
			l.histories[i].Comings = nil
		}
	}
	for _, d := range before.unattributed {
		if !changed[d.BoatID] {
			l.unattributed = append(l.unattributed, d)
		}
	}
	l.add(days)
	return l, l.keepServices(ctx, before, boats, changed)
}

// keepServices takes over what a ledger of before has read of services, with that of
// some boats read again.
func (l *Ledger) keepServices(ctx context.Context, before *Ledger, boats []string, changed map[string]bool) error {
	before.mu.Lock()
	kept := maps.Clone(before.services)
	before.mu.Unlock()
	for days, work := range kept {
		again, err := report.ServiceDays(ctx, l.shop.DB, days.from, days.to, boats)
		if err != nil {
			return err
		}
		work = slices.DeleteFunc(slices.Clone(work), func(d report.ServiceDay) bool { return changed[d.BoatID] })
		l.services[days] = append(work, again...)
	}
	return nil
}

// tenure turns a stored one into what the statistics know. The customer bought
// the boat from the shop if their time began with a day, and the shop sold the
// boat on that day or later: boats are sold again after a trade-in, and only
// the latest sale is on the boat itself.
func tenure(t *report.Tenure, freezes bool) returns.Tenure {
	out := returns.Tenure{Boat: t.Boat.ID, Customer: t.Customer.ID, Kind: t.Boat.Kind, Group: "warm", From: t.From, End: t.To}
	if freezes {
		out.Group = "freezes"
	}
	if t.From != 0 && t.From <= t.Boat.SoldOn {
		out.Sold = t.From
	}
	if gone := t.Boat.Gone; gone != 0 && (out.End == 0 || gone < out.End) {
		out.End = gone
	}
	return out
}

// add gives each day of paid work to the tenure that it is a return of.
func (l *Ledger) add(days []report.ShopDay) {
	for _, d := range days {
		if d.Day > l.Today {
			continue
		}
		l.lastDay[d.BoatID] = max(l.lastDay[d.BoatID], d.Day)
		if d.Lines == 0 {
			continue
		}
		i := l.holder(d.BoatID, d.Day)
		if i < 0 || !l.histories[i].Counts(d.Day) {
			l.unattributed = append(l.unattributed, d)
			continue
		}
		h := &l.histories[i]
		h.Comings = append(h.Comings, returns.Coming{Day: d.Day, Lines: d.Lines, Paid: d.Paid})
	}
}

// holder finds the tenure of a boat on a day, -1 if the boat was nobody's.
func (l *Ledger) holder(boat string, day civil.Day) int {
	for _, i := range l.ofBoat[boat] {
		if l.histories[i].Holds(day) {
			return i
		}
	}
	return -1
}

// sale is the year of the sale that a day's paid work is repeat service of; 0
// if it is other work.
func (l *Ledger) sale(boat string, day civil.Day) int {
	if i := l.holder(boat, day); i >= 0 && l.histories[i].Sold != 0 && l.histories[i].Counts(day) {
		return l.histories[i].Sold.Year()
	}
	return 0
}

// paidDay is one boat's day of paid work.
type paidDay struct {
	boat  string
	day   civil.Day
	sale  int // year of the sale, 0 for other work
	lines int
	paid  schedule.Cents
}

// eachPaid calls fn for every day of paid work on record.
func (l *Ledger) eachPaid(fn func(paidDay)) {
	for i := range l.histories {
		h := &l.histories[i]
		year := 0
		if h.Sold != 0 {
			year = h.Sold.Year()
		}
		for _, c := range h.Comings {
			fn(paidDay{h.Boat, c.Day, year, c.Lines, c.Paid})
		}
	}
	for _, d := range l.unattributed {
		fn(paidDay{d.BoatID, d.Day, 0, d.Lines, d.Paid})
	}
}

// Figure is a count or an amount, with the list that it is counted from: Count
// is the list's rows, Cents or Minutes its total.
type Figure struct {
	Count   int            `json:"count"`
	Cents   schedule.Cents `json:"cents"`
	Minutes int            `json:"minutes,omitempty"` // of labour
	List    Query          `json:"list"`
}

func (f *Figure) add(lines int, paid schedule.Cents) {
	f.Count += lines
	f.Cents += paid
}
