package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
	"bellbuoy/store/freeze"
	"bellbuoy/store/outbox"
)

// FreezePlace is the freeze watch of one place.
type FreezePlace struct {
	Place   string
	Known   freeze.Forecast
	TooOld  bool // the forecast raises no alarm
	Nights  []FreezeNight
	Level   watch.Level     // of the nights to come, Alarm while one stands
	Event   *freeze.Event   // the alarm that stands, nil for none
	Freeze  schedule.Freeze // the one to act on; no night if there is none
	Boats   []FreezeBoat    // at risk, the first to freeze first
	InCare  int             // boats at the place
	Left    int             // minutes that technicians have until then, less what is booked
	Needed  int             // minutes of the boats at risk that are not booked before it
	Short   int             // minutes of those of them for which no hours are left
	Sending bool            // freeze emails go out
	MailWhy string          // why they do not, "" if they do
}

// FreezeNight is a night judged, beside what the climate says of its date.
type FreezeNight struct {
	watch.Verdict
	By    int // percent of autumns in which the first freeze of the loaded threshold has come by that date
	HasBy bool
}

// FreezeBoat is a boat at risk.
type FreezeBoat struct {
	schedule.Exposure
	Boat    schedule.Boat
	Owner   schedule.Customer
	Visit   schedule.Visit // its winterization; no ID if none is planned
	Minutes int            // of the winterization alone, without what rides along
	// InTime: booked on a day before the freeze. After: booked on a later one,
	// which the desk decides about.
	InTime, After bool
	Cut           bool // the hours end before it
	Telling       notify.FreezeTelling
	Called        *store.Call // the newest call since the alarm, nil for none
}

// FreezeDetail is how much of the freeze watch is asked for.
type FreezeDetail int

// The details, each with what is before it.
const (
	FreezeNights   FreezeDetail = iota
	FreezeBoats                 // at risk, where a night is worth it
	FreezeTellings              // and how their owners hear of it
)

// FreezeWatch is what the forecasts of all places that have one come to.
func (a *App) FreezeWatch(ctx context.Context, now time.Time, detail FreezeDetail) ([]FreezePlace, error) {
	known, err := freeze.Forecasts(ctx, a.DB)
	if err != nil {
		return nil, err
	}
	today := a.Day(now)
	events, err := freeze.Events(ctx, a.DB, today)
	if err != nil {
		return nil, err
	}
	climates, err := freeze.Climates(ctx, a.DB)
	if err != nil {
		return nil, err
	}
	var out []FreezePlace
	for i := range a.Config.Places {
		c := &a.Config.Places[i]
		f, ok := known[c.Name]
		if c.Forecast == "" || !ok || f.Source != c.Forecast {
			if c.Forecast != "" {
				out = append(out, FreezePlace{Place: c.Name, Known: freeze.Forecast{Place: c.Name, Source: c.Forecast}})
			}
			continue
		}
		p := FreezePlace{Place: c.Name, Known: f}
		a.readNights(&p, climates, now)
		for k := range events {
			if e := &events[k]; e.Place == c.Name && e.Ended == watch.Open && (p.Event == nil || e.Run.First < p.Event.Run.First) {
				p.Event, p.Level = e, watch.Alarm
				p.Freeze = schedule.Freeze{Night: max(e.Run.First, today), Tenths: e.Low}
			}
		}
		if detail >= FreezeBoats && p.Level > watch.Quiet {
			if err := a.boatsAtRisk(ctx, &p, now); err != nil {
				return nil, err
			}
		}
		if detail >= FreezeTellings && len(p.Boats) > 0 {
			if err := a.fillTellings(ctx, &p); err != nil {
				return nil, err
			}
		}
		out = append(out, p)
	}
	return out, a.cutHours(ctx, out, today)
}

// JudgeNights judges the nights of a forecast that nobody keeps; a place of "" has
// no offset.
func (a *App) JudgeNights(place string, f *watch.Forecast, now time.Time) []FreezeNight {
	var out []FreezeNight
	for _, v := range a.verdicts(place, f, now) {
		out = append(out, FreezeNight{Verdict: v})
	}
	return out
}

// readNights judges the nights of a place's forecast. The freeze to act on is the
// first night that is worth a look, unless an alarm stands.
func (a *App) readNights(p *FreezePlace, climates []freeze.Climate, now time.Time) {
	f := p.Known.Forecast
	if f == nil {
		return
	}
	p.TooOld = !fresh(f, now)
	for _, v := range a.verdicts(p.Place, f, now) {
		n := FreezeNight{Verdict: v}
		for i := range climates {
			if climates[i].Place == p.Place {
				_, m, d := v.To.Date()
				n.By, n.HasBy = climates[i].Freeze.By(civil.MonthDay{Month: m, Day: d})
			}
		}
		p.Nights = append(p.Nights, n)
		if p.TooOld || v.Level == watch.Quiet {
			continue
		}
		p.Level = max(p.Level, v.Level)
		if p.Freeze.Night == 0 {
			p.Freeze = schedule.Freeze{Night: v.To, Tenths: watch.Tenths(v.YardLow)}
		}
	}
}

// listAtRisk finds the boats that a place's freeze would break, in the order in
// which they freeze, and where the hours that are left end.
func (a *App) listAtRisk(ctx context.Context, p *FreezePlace, now time.Time) error {
	today := a.Day(now)
	ids, err := freeze.BoatsAt(ctx, a.DB, p.Place)
	if err != nil {
		return err
	}
	p.InCare = len(ids)
	place, err := a.Place(ctx, p.Place)
	if err != nil {
		return err
	}
	if len(ids) > 0 {
		err = a.DB.EachFacts(ctx, ids, func(f *schedule.Facts) error {
			f.Place = place
			if e := a.Planner.AtRisk(f, today, p.Freeze); e.Danger != schedule.NoDanger {
				p.Boats = append(p.Boats, FreezeBoat{Exposure: e, Boat: f.Boat})
			}
			return nil
		})
	}
	if err != nil {
		return err
	}
	for i := range p.Boats {
		if err := a.fillAtRisk(ctx, p, &p.Boats[i]); err != nil {
			return err
		}
	}
	slices.SortFunc(p.Boats, func(a, b FreezeBoat) int { return a.Compare(&b) })
	return nil
}

// knownAtRisk is a list of boats at risk that was made a moment ago.
type knownAtRisk struct {
	key    string
	boats  []FreezeBoat
	inCare int
}

// boatsAtRisk is listAtRisk, or what that came to less than a minute ago if no
// facts have changed since: in a freeze everybody looks at the list.
func (a *App) boatsAtRisk(ctx context.Context, p *FreezePlace, now time.Time) error {
	version, err := a.DB.FactsVersion(ctx)
	if err != nil {
		return err
	}
	key := fmt.Sprint(p.Freeze, version, now.Unix()/60)
	a.atRiskMu.Lock()
	defer a.atRiskMu.Unlock()
	if known, ok := a.atRisk[p.Place]; ok && known.key == key {
		p.Boats, p.InCare = slices.Clone(known.boats), known.inCare
		return nil
	}
	if err := a.listAtRisk(ctx, p, now); err != nil {
		return err
	}
	if a.atRisk == nil {
		a.atRisk = make(map[string]knownAtRisk)
	}
	a.atRisk[p.Place] = knownAtRisk{key, slices.Clone(p.Boats), p.InCare}
	return nil
}

// fillAtRisk adds a boat's owner and its winterization.
func (a *App) fillAtRisk(ctx context.Context, p *FreezePlace, b *FreezeBoat) error {
	var err error
	if b.Owner, err = a.OwnerOf(ctx, b.Boat.ID); err != nil {
		return err
	}
	plan, err := a.DB.Plan(ctx, b.Boat.ID)
	if err != nil {
		return err
	}
	season := schedule.LayUpSeason(p.Freeze.Night)
	for _, v := range plan.Visits {
		if v.Kind == schedule.LayUp && v.Season == season {
			b.Visit = v
		}
	}
	for i := range plan.Items {
		it := &plan.Items[i]
		if r, ok := a.Planner.Catalogue().Rule(it.Rule); ok && r.Season == schedule.LayUp && it.Season == season && it.VisitID == b.Visit.ID && it.CoveredBy == "" {
			b.Minutes += it.Labour
		}
	}
	if b.Visit.Booked() {
		b.InTime = b.Visit.Booking.Day < p.Freeze.Night
		b.After = !b.InTime
	}
	return nil
}

// Compare orders boats by what freezes first.
func (b *FreezeBoat) Compare(o *FreezeBoat) int {
	return cmp.Or(cmp.Compare(b.Danger, o.Danger), cmp.Compare(o.Visit.Priority, b.Visit.Priority), cmp.Compare(b.Boat.ID, o.Boat.ID))
}

// cutHours says where the technicians' hours until a freeze end. All places share
// them: the boats of all take theirs in the order of danger. What is booked goes
// first; a boat that is booked in time needs no more.
func (a *App) cutHours(ctx context.Context, places []FreezePlace, today civil.Day) error {
	type atRisk struct {
		*FreezeBoat
		place *FreezePlace
	}
	var all []atRisk
	for i := range places {
		p := &places[i]
		if len(p.Boats) == 0 {
			continue
		}
		var err error
		if p.Left, err = a.hoursBefore(ctx, p.Freeze.Night, today); err != nil {
			return err
		}
		for k := range p.Boats {
			if !p.Boats[k].InTime {
				p.Needed += p.Boats[k].Minutes
				all = append(all, atRisk{&p.Boats[k], p})
			}
		}
	}
	slices.SortFunc(all, func(a, b atRisk) int { return a.Compare(b.FreezeBoat) })
	taken := 0
	for _, b := range all {
		if taken+b.Minutes > b.place.Left {
			b.Cut = true
			b.place.Short += b.Minutes
			continue
		}
		taken += b.Minutes
	}
	return nil
}

// hoursBefore is the technicians' time until a night, in minutes, less what is
// booked.
func (a *App) hoursBefore(ctx context.Context, night, today civil.Day) (int, error) {
	last := night - 1
	if last < today {
		return 0, nil
	}
	weeks, err := a.CapacityLeft(ctx, today, today.Week(), last.Week())
	if err != nil {
		return 0, err
	}
	left := 0
	for i := range weeks {
		left += weeks[i].Through(last)[level.Labor]
	}
	booked, err := freeze.BookedMinutes(ctx, a.DB, today, last)
	return max(0, left-booked), err
}

// freezeRules are the settings' rules of telling.
func (a *App) freezeRules() notify.FreezeRules {
	f := &a.Config.Freeze
	return notify.FreezeRules{From: minutes(f.From), Until: minutes(f.Until), MostASeason: f.MostASeason}
}

// freezeAlerts are the alerts of an alarm that stands, by owner, in the order of
// danger; boats that are booked in time or have no owner are not among them.
func (p *FreezePlace) alerts() (owners []string, by map[string]*notify.FreezeAlert) {
	by = make(map[string]*notify.FreezeAlert)
	for i := range p.Boats {
		b := &p.Boats[i]
		if b.Owner.ID == "" || b.InTime || p.Event == nil {
			continue
		}
		a := by[b.Owner.ID]
		if a == nil {
			a = &notify.FreezeAlert{Subject: freeze.Subject(p.Event.ID), Freeze: p.Freeze}
			by[b.Owner.ID] = a
			owners = append(owners, b.Owner.ID)
		}
		fb := notify.FreezeBoat{Boat: b.Boat}
		if b.Visit.ID != "" {
			fb.Visit = &b.Visit
		}
		a.Boats = append(a.Boats, fb)
	}
	return owners, by
}

// fillTellings says of each boat at risk how its owner hears of it, if an alarm
// stands, and whether somebody called.
func (a *App) fillTellings(ctx context.Context, p *FreezePlace) error {
	var err error
	if p.MailWhy, err = a.whyNoFreezeMail(ctx); err != nil {
		return err
	}
	p.Sending = p.MailWhy == ""
	owners, alerts := p.alerts()
	tellings := make(map[string]notify.FreezeTelling, len(owners))
	calls := make(map[string]*store.Call)
	for _, id := range owners {
		r, err := a.Recipient(ctx, id)
		if err != nil {
			return err
		}
		tellings[id] = notify.TellOfFreeze(&r, alerts[id], a.freezeRules())
		last, err := a.DB.CallsTo(ctx, id, 1)
		if err != nil {
			return err
		}
		if len(last) > 0 && !last[0].At.Before(p.Event.RaisedAt) {
			calls[id] = &last[0]
		}
	}
	for i := range p.Boats {
		if b := &p.Boats[i]; !b.InTime {
			b.Telling, b.Called = tellings[b.Owner.ID], calls[b.Owner.ID]
		}
	}
	return nil
}

// whyNoFreezeMail says why no freeze emails go out, "" if they do.
func (a *App) whyNoFreezeMail(ctx context.Context) (string, error) {
	if !a.Config.Freeze.Emails {
		return "Freeze emails are switched off in the settings (freeze.emails).", nil
	}
	st, err := outbox.Sending(ctx, a.DB)
	switch {
	case err != nil:
		return "", err
	case a.renderer == nil || !st.On:
		return "Sending is switched off.", nil
	}
	return "", nil
}

// FreezeCalls are the boats of an alarm whose owners are to be called, by owner:
// where email does not reach, and while no emails go out everybody.
func (p *FreezePlace) FreezeCalls() []FreezeBoat {
	var out []FreezeBoat
	for _, b := range p.Boats {
		way := b.Telling.Way
		if p.Event != nil && !b.InTime && b.Called == nil && (way == notify.FreezeByCall || way == notify.FreezeByMail && !p.Sending) {
			out = append(out, b)
		}
	}
	return out
}
