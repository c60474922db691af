package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
	"bellbuoy/store"
)

// read turns the form as it was sent into work. Its errors say what to correct.
func (p *recordPage) read(r *http.Request, today civil.Day, cat *rules.Catalogue) (store.Work, error) {
	w := store.Work{BoatID: p.Boat.ID}
	day, err := formDay(r, "day", "Day", today)
	if err != nil {
		return w, err
	}
	if day > today {
		return w, correct("Day: " + day.Long() + " is still to come. Work is recorded when it is done.")
	}
	by := cmp.Or(r.PostFormValue("by"), schedule.ByShop)
	if !slices.Contains(schedule.Doers, by) {
		return w, correct("Done by: choose one of the three.")
	}
	hours, err := p.readMeters(r, day, &w)
	if err != nil {
		return w, err
	}
	if err := p.readJobs(r, cat, &w); err != nil {
		return w, err
	}
	note := strings.TrimSpace(r.PostFormValue("note"))
	for i := range w.Records {
		rec := &w.Records[i]
		rec.BoatID, rec.Day, rec.By = p.Boat.ID, day, by
		if i == 0 {
			rec.Note = note
		}
		rec.Hours, rec.HasHours = p.hoursOf(rec.ComponentID, hours)
	}
	if err := p.readMeasurements(r, day, &w); err != nil {
		return w, err
	}
	if err := p.readFinding(r, day, cat, &w); err != nil {
		return w, err
	}
	if len(w.Records)+len(w.Readings)+len(w.Measurements)+len(w.FollowUps) == 0 {
		return w, correct("Nothing is ticked or filled in. Tick what was done, or go back.")
	}
	return w, nil
}

// readJobs reads the ticked jobs of the list and the free ones. Two lines that
// are one piece of work make one record.
func (p *recordPage) readJobs(r *http.Request, cat *rules.Catalogue, w *store.Work) error {
	add := func(componentID, service, amount, where string) error {
		cents, err := measure.ParseCents(cmp.Or(strings.TrimSpace(amount), "0"))
		if err != nil {
			return correct(where + ": " + amount + " is not an amount. Write it like 184.00.")
		}
		i := slices.IndexFunc(w.Records, func(x schedule.Record) bool { return x.ComponentID == componentID && x.Service == service })
		if i >= 0 {
			w.Records[i].Amount += cents
			return nil
		}
		w.Records = append(w.Records, schedule.Record{ComponentID: componentID, Service: service, Amount: cents})
		return nil
	}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		n := strconv.Itoa(j.N)
		j.Done = r.PostFormValue("job"+n) != ""
		if !j.Done {
			continue
		}
		if err := add(j.Line.Item.ComponentID, j.Line.Item.Service, r.PostFormValue("amount"+n), j.Line.Title); err != nil {
			return err
		}
	}
	for i := range freeJobs {
		n := strconv.Itoa(i)
		code := r.PostFormValue("free" + n)
		if code == "" {
			continue
		}
		if !cat.HasService(code) {
			return correct("Other work: " + code + " is not in the catalogue.")
		}
		if err := add(r.PostFormValue("part"+n), code, r.PostFormValue("freeamount"+n), cat.ServiceTitle(code)); err != nil {
			return err
		}
	}
	return nil
}

// readMeters reads the hour meters and returns the figures by component.
func (p *recordPage) readMeters(r *http.Request, day civil.Day, w *store.Work) (map[string]schedule.Hours, error) {
	hours := make(map[string]schedule.Hours)
	for _, m := range p.Meters {
		v := strings.TrimSpace(r.PostFormValue("hours-" + m.ID))
		if v == "" {
			continue
		}
		h, err := measure.ParseHours(v)
		if err != nil {
			return nil, correct(m.Label + ": " + v + " are no meter hours. Write them like 188.5.")
		}
		hours[m.ID] = h
		w.Readings = append(w.Readings, schedule.Reading{
			ComponentID: m.ID, Day: day, Hours: h, ReadBy: schedule.ByShop, NewMeter: r.PostFormValue("new-"+m.ID) != "",
		})
	}
	return hours, nil
}

// hoursOf is the meter figure that belongs to a component: its own, or for a
// drive its engine's, which is the only one or has the same first word ("Port").
func (p *recordPage) hoursOf(id string, hours map[string]schedule.Hours) (schedule.Hours, bool) {
	if h, ok := hours[id]; ok {
		return h, true
	}
	k := slices.IndexFunc(p.Drives, func(d component) bool { return d.ID == id })
	if k < 0 {
		return 0, false
	}
	side, _, _ := strings.Cut(p.Drives[k].Label, " ")
	for _, e := range p.Engines {
		first, _, _ := strings.Cut(e.Label, " ")
		if h, ok := hours[e.ID]; ok && (len(p.Engines) == 1 || first == side) {
			return h, true
		}
	}
	return 0, false
}

func (p *recordPage) readMeasurements(r *http.Request, day civil.Day, w *store.Work) error {
	add := func(m store.Measurement) {
		m.BoatID, m.Day = p.Boat.ID, day
		w.Measurements = append(w.Measurements, m)
	}
	for _, e := range p.Engines {
		psi, err := compression.Parse(r.PostFormValue("psi-" + e.ID))
		if err != nil {
			return correct(e.Label + ": " + err.Error() + ".")
		}
		if len(psi) > 0 {
			rule := compression.Find(r.PostFormValue("rule-" + e.ID))
			add(store.Measurement{ComponentID: e.ID, Kind: store.MeasureCompression, Figures: psi, Rule: rule.Code})
		}
	}
	for _, d := range p.Drives {
		if v := r.PostFormValue("lube-" + d.ID); slices.Contains(p.Lubes, v) {
			add(store.Measurement{ComponentID: d.ID, Kind: store.MeasureGearLube, Words: v})
		}
	}
	for _, b := range p.Battery {
		v := strings.Replace(strings.TrimSpace(r.PostFormValue("volts-"+b.ID)), ",", ".", 1)
		if v == "" {
			continue
		}
		volts, err := strconv.ParseFloat(v, 64)
		if err != nil || !(volts >= 0 && volts <= 100) {
			return correct(b.Label + ": " + v + " is no voltage. Write it like 12.6.")
		}
		add(store.Measurement{ComponentID: b.ID, Kind: store.MeasureBattery, Figures: []float64{volts}})
	}
	return nil
}

// readFinding reads a finding that is to be followed up.
func (p *recordPage) readFinding(r *http.Request, day civil.Day, cat *rules.Catalogue, w *store.Work) error {
	finding := strings.TrimSpace(r.PostFormValue("finding"))
	if finding == "" {
		return nil
	}
	service := r.PostFormValue("finding-service")
	if !cat.HasService(service) {
		return correct("Finding: choose the work that settles it.")
	}
	due, err := formDay(r, "finding-due", "Look again by", day+30)
	if err != nil {
		return err
	}
	if due <= day {
		return correct(fmt.Sprintf("Look again by: choose a day after %s.", day.Long()))
	}
	title, _, _ := strings.Cut(finding, "\n")
	w.FollowUps = append(w.FollowUps, schedule.FollowUp{
		BoatID: p.Boat.ID, ComponentID: r.PostFormValue("finding-part"), Service: service,
		Title: "Follow-up: " + strings.TrimSpace(title), Due: due, Raised: day, Finding: finding,
	})
	return nil
}
