package boat

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// read turns the form as it was sent into work. Its errors say what to correct.
func (p *recordPage) read(r *http.Request, today civil.Day, cat *rules.Catalogue, in words.Format) (store.Work, error) {
	w := store.Work{BoatID: p.Boat.ID}
	var wrong site.Refusals
	day, err := site.FormDay(r, "day", "Day", today)
	if err == nil && day > today {
		err = site.At("day", "Day: "+in.Date(day)+" is still to come. Work is recorded when it is done.")
	}
	if err != nil {
		wrong.Add(err)
		day = today // nothing else is judged by it
	}
	by := cmp.Or(r.PostFormValue("by"), schedule.ByShop)
	if !slices.Contains(schedule.Doers, by) {
		wrong.Add(site.At("by", "Done by: choose one of the three."))
	}
	hours := p.readMeters(r, day, &w, &wrong)
	p.readJobs(r, cat, &w, &wrong)
	p.readStock(r, &w, &wrong)
	note := strings.TrimSpace(r.PostFormValue("note"))
	for i := range w.Records {
		rec := &w.Records[i]
		rec.BoatID, rec.Day, rec.By = p.Boat.ID, day, by
		if i == 0 && note != "" {
			rec.Note = strings.TrimPrefix(rec.Note+"\n"+note, "\n")
		}
		rec.Hours, rec.HasHours = p.hoursOf(rec.ComponentID, hours)
	}
	p.readMeasurements(r, day, &w, &wrong)
	p.readFinding(r, day, cat, &w, &wrong, in)
	switch {
	case wrong != nil:
		return w, wrong
	case len(w.Records)+len(w.Readings)+len(w.Measurements)+len(w.FollowUps) == 0:
		return w, site.Correct("Nothing is ticked or filled in. Tick what was done, or go back.")
	}
	return w, nil
}

// readJobs reads the ticked jobs of the list and the free ones. Two lines that
// are one piece of work make one record.
func (p *recordPage) readJobs(r *http.Request, cat *rules.Catalogue, w *store.Work, wrong *site.Refusals) {
	add := func(componentID, service, words, field, where string) {
		amount := strings.TrimSpace(r.PostFormValue(field))
		cents, err := measure.ParseCents(cmp.Or(amount, "0"))
		if err != nil {
			wrong.Add(site.At(field, where+": "+amount+" is not an amount. Write it like 184.00."))
			return
		}
		i := slices.IndexFunc(w.Records, func(x schedule.Record) bool {
			return x.ComponentID == componentID && x.Service == service && x.Note == words
		})
		if i >= 0 {
			w.Records[i].Amount += cents
			return
		}
		w.Records = append(w.Records, schedule.Record{ComponentID: componentID, Service: service, Amount: cents, Note: words})
	}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		if n := strconv.Itoa(j.N); r.PostFormValue("job"+n) != "" {
			words := ""
			if j.Line.Item.Service == schedule.ServiceOther {
				words = j.Line.Title // names the job, as no rule does
			}
			add(j.Line.Item.ComponentID, j.Line.Item.Service, words, "amount"+n, j.Line.Title)
		}
	}
	for i := range freeJobs {
		n := strconv.Itoa(i)
		switch code := r.PostFormValue("free" + n); {
		case code == "":
		case !cat.HasService(code):
			wrong.Add(site.At("free"+n, "Other work: "+code+" is not in the catalog."))
		default:
			add(r.PostFormValue("part"+n), code, "", "freeamount"+n, cat.ServiceTitle(code))
		}
	}
}

// readStock reads the parts taken from the stock: each is a line of its own.
func (p *recordPage) readStock(r *http.Request, w *store.Work, wrong *site.Refusals) {
	for i := range freeJobs {
		n := strconv.Itoa(i)
		want := r.PostFormValue("stock" + n)
		k := slices.IndexFunc(p.Stock, func(s store.PartStock) bool { return s.Code+" "+s.Unit == want })
		if k < 0 {
			continue
		}
		s := &p.Stock[k]
		text := strings.Replace(cmp.Or(strings.TrimSpace(r.PostFormValue("stockquantity"+n)), "1"), ",", ".", 1)
		quantity, err := strconv.ParseFloat(text, 64)
		if err != nil || !(quantity > 0 && quantity < 1e6) {
			wrong.Add(site.At("stockquantity"+n, s.Name+": "+text+" is no quantity. Write it like 2 or 3.5."))
			continue
		}
		amount := strings.TrimSpace(r.PostFormValue("stockamount" + n))
		cents, err := measure.ParseCents(cmp.Or(amount, "0"))
		if err != nil {
			wrong.Add(site.At("stockamount"+n, s.Name+": "+amount+" is not an amount. Write it like 18.00."))
			continue
		}
		w.Parts = append(w.Parts, store.PartUse{Code: s.Code, Unit: s.Unit, Quantity: quantity, Record: len(w.Records)})
		w.Records = append(w.Records, schedule.Record{Service: schedule.ServiceOther, Amount: cents, Note: "Part: " + words.Decimals(quantity) + " " + s.Unit + " " + s.Name})
	}
}

// readMeters reads the hour meters and returns the figures by component.
func (p *recordPage) readMeters(r *http.Request, day civil.Day, w *store.Work, wrong *site.Refusals) map[string]schedule.Hours {
	hours := make(map[string]schedule.Hours)
	for _, m := range p.Meters {
		v := strings.TrimSpace(r.PostFormValue("hours-" + m.ID))
		if v == "" {
			continue
		}
		h, err := measure.ParseHours(v)
		if err != nil {
			wrong.Add(site.At("hours-"+m.ID, m.Label+": "+v+" are no meter hours. Write them like 188.5."))
			continue
		}
		hours[m.ID] = h
		w.Readings = append(w.Readings, schedule.Reading{
			ComponentID: m.ID, Day: day, Hours: h, ReadBy: schedule.ByShop, NewMeter: r.PostFormValue("new-"+m.ID) != "",
		})
	}
	return hours
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

func (p *recordPage) readMeasurements(r *http.Request, day civil.Day, w *store.Work, wrong *site.Refusals) {
	add := func(m store.Measurement) {
		m.BoatID, m.Day = p.Boat.ID, day
		w.Measurements = append(w.Measurements, m)
	}
	for _, e := range p.Engines {
		psi, err := compression.Parse(r.PostFormValue("psi-" + e.ID))
		if err != nil {
			wrong.Add(site.At("psi-"+e.ID, e.Label+": "+err.Error()+"."))
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
			wrong.Add(site.At("volts-"+b.ID, b.Label+": "+v+" is no voltage. Write it like 12.6."))
			continue
		}
		add(store.Measurement{ComponentID: b.ID, Kind: store.MeasureBattery, Figures: []float64{volts}})
	}
}

// readFinding reads a finding that is to be followed up.
func (p *recordPage) readFinding(r *http.Request, day civil.Day, cat *rules.Catalogue, w *store.Work, wrong *site.Refusals, in words.Format) {
	finding := strings.TrimSpace(r.PostFormValue("finding"))
	if finding == "" {
		return
	}
	service := r.PostFormValue("finding-service")
	if !cat.HasService(service) {
		wrong.Add(site.At("finding-service", "Finding: choose the work that settles it."))
	}
	due, err := site.FormDay(r, "finding-due", "Look again by", day+app.RecheckDays)
	switch {
	case err != nil:
		wrong.Add(err)
	case due <= day:
		wrong.Add(site.At("finding-due", fmt.Sprintf("Look again by: choose a day after %s.", in.Date(day))))
	}
	w.FollowUps = append(w.FollowUps, schedule.FollowUp{
		BoatID: p.Boat.ID, ComponentID: r.PostFormValue("finding-part"), Service: service,
		Due: due, Raised: day, Finding: finding,
	})
}

// About names a job in the form: what is done, and on which part. The list of a
// visit may be another one when the form comes back.
func (j *recordJob) About() string { return j.Line.Item.ComponentID + " " + j.Line.Item.Service }

// keepJobs takes the jobs as the form showed them, and reports whether the visit
// asks for others now. A form that names none has those of the visit.
func (p *recordPage) keepJobs(r *http.Request, cat *rules.Catalogue) (changed bool) {
	var sent []recordJob
	for n := 0; r.PostFormValue("about"+strconv.Itoa(n)) != ""; n++ {
		part, service, _ := strings.Cut(r.PostFormValue("about"+strconv.Itoa(n)), " ")
		known := slices.ContainsFunc(p.Parts, func(c component) bool { return c.ID == part })
		if !known || !cat.HasService(service) {
			return true // not a form of ours
		}
		j := recordJob{N: n, Line: schedule.Line{Title: cat.ServiceTitle(service), Item: schedule.DueItem{ComponentID: part, Service: service}}}
		if k := slices.IndexFunc(p.Jobs, func(x recordJob) bool { return x.About() == j.About() }); k >= 0 {
			j.Line = p.Jobs[k].Line
		} else if part != "" {
			j.Line.Title += ", " + p.partName(part)
		}
		sent = append(sent, j)
	}
	if sent == nil {
		return false
	}
	changed = !slices.EqualFunc(sent, p.Jobs, func(x, y recordJob) bool { return x.About() == y.About() })
	p.Jobs = sent
	return changed
}
