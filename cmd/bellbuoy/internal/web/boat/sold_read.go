package boat

import (
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// readSale reads the form of a sale.
func (s pages) readSale(r *http.Request, p *soldPage) (store.Sale, error) {
	sale := store.Sale{Form: r.PostFormValue("form"), Service: p.Service, Buyer: readBuyer(r, p.Buyer.ID)}
	var err error
	if sale.Day, err = s.saleDay(r); err != nil {
		return sale, err
	}
	if sale.Buyer.ID == "" && sale.Buyer.Name == "" {
		return sale, site.At("name", "Who bought it? Give a name, or choose a customer on file.")
	}
	if sale.Boat, err = s.readSoldBoat(r, p, sale.Day); err != nil {
		return sale, err
	}
	if sale.Booked, err = readBooked(r, p.Booked); err != nil {
		return sale, err
	}
	if p.Known == nil {
		if sale.Components, err = readNewParts(r); err != nil {
			return sale, err
		}
	}
	sale.Work, err = s.readSoldWork(r, p, &sale)
	return sale, err
}

func (s pages) saleDay(r *http.Request) (civil.Day, error) {
	d, err := civil.Parse(r.PostFormValue("day"))
	if err != nil {
		return 0, site.At("day", "The day of the sale could not be read; it is written like "+s.Today().String()+".")
	}
	if d > s.Today() {
		return 0, site.At("day", "The day of the sale is still to come.")
	}
	return d, nil
}

func readBuyer(r *http.Request, id string) schedule.Customer {
	text := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	return schedule.Customer{
		ID: id, Name: text("name"), Email: text("email"), Phone: text("phone"), Address: text("address"),
		City: text("city"), Region: text("region"), PostalCode: text("postal_code"), ContactBy: text("contact_by"),
		Language: text("language"),
	}
}

// readSoldBoat reads the boat: the one on file with what the buyer changes, or
// a new one.
func (s pages) readSoldBoat(r *http.Request, p *soldPage, day civil.Day) (schedule.Boat, error) {
	text := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	var b schedule.Boat
	if p.Known != nil {
		b = *p.Known
		if p.Owner.ID != "" {
			return b, site.At("", "By the file the boat is still "+p.Owner.Name+"'s. Record the trade-in first, on its page, under Change of owner.")
		}
	} else {
		if _, err := s.App.DB.BoatByHIN(r.Context(), text("hin")); err == nil {
			return b, site.At("hin", "A boat with that HIN is on file. Look it up above, so that its history goes with it.")
		}
		b = schedule.Boat{HIN: text("hin"), Make: text("make"), Model: text("model"), Kind: text("kind"), Water: text("water")}
		var err error
		if b.Year, err = number(text("year"), 1900, s.Today().Year()+1); err != nil {
			return b, site.At("year", "The model year could not be read.")
		}
		if t := text("length_ft"); t != "" {
			if b.LengthFt, err = strconv.ParseFloat(t, 64); err != nil || b.LengthFt < 4 || b.LengthFt > 200 {
				return b, site.At("length_ft", "The length could not be read; it is in feet.")
			}
		}
	}
	b.Name, b.Place, b.Berth = text("boat_name"), text("place"), text("berth")
	switch {
	case !slices.Contains(schedule.BoatKinds, b.Kind), !slices.Contains(schedule.Waters, b.Water),
		!slices.Contains(schedule.Berths, b.Berth), !slices.Contains(s.App.Config.PlaceNames(), b.Place):
		return b, site.At("", "Choose kind, water, place and where the boat is kept: the plan hangs on them.")
	case p.Known == nil && b.HIN == "" && b.Make == "":
		return b, site.At("hin", "Give the boat's HIN, or at least its make.")
	}
	days, err := number(text("warranty"), 0, 3660)
	if err != nil {
		return b, site.At("warranty", "The warranty is a number of days, 0 for none.")
	}
	b.WarrantyUntil = 0
	if days > 0 {
		b.WarrantyUntil = day + civil.Day(days)
	}
	return b, nil
}

// number reads a whole number in a range; the empty text is 0.
func number(text string, low, high int) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err == nil && n != 0 && (n < low || n > high) {
		err = strconv.ErrRange
	}
	return n, err
}

// readNewParts reads what a hull that is new to us is made of.
func readNewParts(r *http.Request) ([]schedule.Component, error) {
	text := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	var parts []schedule.Component
	for i := range soldEngines {
		n := strconv.Itoa(i + 1)
		if text("propulsion"+n) == "" {
			continue
		}
		c := schedule.Component{ID: store.NewID + "engine-" + n, Kind: "engine", Label: text("label" + n)}
		c.Attr = schedule.Attr{Propulsion: text("propulsion" + n), Stroke: text("stroke" + n), Fuel: text("fuel" + n), Cooling: text("cooling" + n), Family: text("family" + n)}
		if !slices.Contains(schedule.Propulsions, c.Attr.Propulsion) || !slices.Contains(schedule.Fuels, c.Attr.Fuel) {
			return nil, site.At("fuel"+n, "Choose propulsion and fuel of each engine.")
		}
		var err error
		if c.InService, err = optionalDay(r, "since"+n); err != nil {
			return nil, err
		}
		parts = append(parts, c)
	}
	if len(parts) == 2 && parts[0].Label == "" {
		parts[0].Label, parts[1].Label = "Port engine", "Starboard engine"
	}
	if text("trailer") != "" {
		c := schedule.Component{ID: store.NewID + "trailer", Kind: "trailer", Label: "Trailer"}
		if b := text("trailer"); b != "plain" {
			c.Attr.Extra = "brakes=" + b
		}
		parts = append(parts, c)
	}
	for _, kind := range soldAboard {
		if slices.Contains(r.PostForm["aboard"], kind) {
			parts = append(parts, schedule.Component{ID: store.NewID + kind, Kind: kind, Label: words.UpperFirst(kind)})
		}
	}
	return readDated(r, parts)
}

// soldAboard are the kinds of component of which the form asks only whether
// the boat has one.
var soldAboard = []string{"drive", "generator", "battery"}

// soldDated are the kinds whose last day is printed on them or on a paper, with
// what the boat's people call them.
func soldDated() map[string]schedule.Component {
	return map[string]schedule.Component{
		"flares":       {Label: "Flares"},
		"registration": {Label: "Registration"},
		"co-alarm":     {Label: "Carbon monoxide alarm"},
		"life-jacket":  {Label: "Inflatable life jackets", Attr: schedule.Attr{Extra: "jacket=inflatable"}},
	}
}

// readDated reads the gear whose dates stand on it.
func readDated(r *http.Request, parts []schedule.Component) ([]schedule.Component, error) {
	if t := strings.TrimSpace(r.PostFormValue("extinguisher")); t != "" {
		y, err := number(t, 1960, 2200)
		if err != nil {
			return nil, site.At("extinguisher", "The extinguisher's year of manufacture could not be read.")
		}
		parts = append(parts, schedule.Component{ID: store.NewID + "extinguisher", Kind: "extinguisher", Label: "Extinguisher", Made: civil.Of(y, 1, 1)})
	}
	dated := soldDated()
	for _, kind := range slices.Sorted(maps.Keys(dated)) {
		d, err := optionalDay(r, kind)
		if err != nil {
			return nil, err
		}
		if d != 0 {
			c := dated[kind]
			c.ID, c.Kind, c.Expires = store.NewID+kind, kind, d
			parts = append(parts, c)
		}
	}
	return parts, nil
}

// optionalDay reads a day from a field; the empty field is 0.
func optionalDay(r *http.Request, field string) (civil.Day, error) {
	text := strings.TrimSpace(r.PostFormValue(field))
	if text == "" {
		return 0, nil
	}
	d, err := civil.Parse(text)
	if err != nil {
		return 0, site.At(field, "A day could not be read; days are written like 2027-05-03.")
	}
	return d, nil
}

// readSoldWork reads the hours at the sale and the work done before it.
func (s pages) readSoldWork(r *http.Request, p *soldPage, sale *store.Sale) (store.Work, error) {
	var w store.Work
	done, err := optionalDay(r, "work_day")
	if err != nil {
		return w, err
	}
	if done == 0 {
		done = sale.Day
	}
	if done > sale.Day {
		return w, site.At("work_day", "The work before the sale lies after it.")
	}
	engines := soldParts(p, sale)
	for _, e := range engines {
		if err := readSoldEngine(r, e, sale.Day, done, &w); err != nil {
			return w, err
		}
	}
	if err := s.readWinterized(r, p, sale, done, &w); err != nil {
		return w, err
	}
	if p.Known == nil {
		p.facts = schedule.Facts{Boat: sale.Boat, Components: sale.Components}
	}
	cat := s.App.Planner.Catalogue()
	for _, code := range r.PostForm["work"] {
		switch {
		case !cat.HasService(code):
			return w, site.At("work", "There is no service "+strconv.Quote(code)+".")
		case !s.fits(p, code):
			return w, site.At("work", "“"+cat.ServiceTitle(code)+"” does not fit this boat. Untick it, or correct what the boat is made of.")
		}
		w.Records = append(w.Records, s.soldRecords(code, done, p, engines, &w)...)
	}
	said := schedule.Record{Day: done, By: schedule.ByBeforeSale}
	if r.PostFormValue("throughout") != "" {
		said.Service = schedule.ServiceReconditionedThroughout
		w.Records = append(w.Records, said)
	}
	if note := site.Typed(r, "remarks"); note != "" {
		said.Service, said.Note = schedule.ServiceRemark, note
		w.Records = append(w.Records, said)
	}
	return w, nil
}

// readWinterized reads whether the boat is winterized. Where it freezes and the
// records do not say it, somebody must: water in a block cracks it.
func (s pages) readWinterized(r *http.Request, p *soldPage, sale *store.Sale, done civil.Day, w *store.Work) error {
	answer := r.PostFormValue("winterized")
	if laidUpOn(&p.facts, sale.Day) != 0 || answer == "no" {
		return nil
	}
	if answer != "yes" {
		places, err := s.App.Places(r.Context())
		if err != nil {
			return err
		}
		place := places.Of(sale.Boat.Place)
		if len(soldParts(p, sale)) > 0 && place.NeedsLayUp(sale.Day) {
			return site.At("winterized", "Say whether the boat is winterized. If it is not, it is planned for the first week with room.")
		}
		return nil
	}
	day, err := optionalDay(r, "winterized_day")
	switch {
	case err != nil:
		return err
	case day == 0:
		day = done
	}
	switch {
	case day > sale.Day:
		return site.At("winterized_day", "The day of the winterization is after the sale.")
	case schedule.LayUpSeason(day) != schedule.LayUpSeason(sale.Day):
		return site.At("winterized_day", "A winterization on "+day.String()+" was for last winter. Give the day of this one, or say that it is not winterized yet.")
	}
	w.Records = append(w.Records, schedule.Record{Day: day, Service: schedule.LayUp, By: schedule.ByBeforeSale})
	return nil
}

// soldParts are the engines that the sale is about.
func soldParts(p *soldPage, sale *store.Sale) []component {
	var all []component
	if p.Known != nil {
		for _, e := range p.Engines {
			all = append(all, e.component)
		}
		return all
	}
	for i := range sale.Components {
		if c := &sale.Components[i]; c.Kind == "engine" {
			all = append(all, component{c.ID, label(c)})
		}
	}
	return all
}

// readSoldEngine reads an engine's hours and compression.
func readSoldEngine(r *http.Request, e component, sold, done civil.Day, w *store.Work) error {
	if t := strings.TrimSpace(r.PostFormValue("hours-" + e.ID)); t != "" {
		h, err := measure.ParseHours(t)
		if err != nil {
			return site.At("hours-"+e.ID, "The hours of “"+e.Label+"” could not be read; they are written like 188.5.")
		}
		w.Readings = append(w.Readings, schedule.Reading{ComponentID: e.ID, Day: sold, Hours: h, ReadBy: "shop"})
	}
	psi, err := compression.Parse(r.PostFormValue("psi-" + e.ID))
	if err != nil {
		return site.At("psi-"+e.ID, words.UpperFirst(err.Error())+".")
	}
	if len(psi) > 0 {
		w.Measurements = append(w.Measurements, store.Measurement{ComponentID: e.ID, Day: done, Kind: store.MeasureCompression, Figures: psi})
	}
	return nil
}

// ofEngines are the services that are done to each engine by itself, so that
// its hours stand beside them.
func ofEngines(code string) bool {
	return slices.Contains([]string{"engine-oil", "oil-filter", "gear-lube", "fuel-filter", "spark-plugs", "impeller", "seawater-pump",
		"thermostat", "compression-test", "diagnostics"}, code)
}

// soldRecords makes the records of one service: one for each engine that it
// fits, or one for the whole boat.
func (s pages) soldRecords(code string, done civil.Day, p *soldPage, engines []component, w *store.Work) []schedule.Record {
	rec := schedule.Record{Day: done, Service: code, By: schedule.ByBeforeSale}
	if !ofEngines(code) || len(engines) == 0 {
		return []schedule.Record{rec}
	}
	var all []schedule.Record
	for _, e := range engines {
		fits := func(c schedule.Component) bool { return c.ID == e.ID && s.App.Planner.Takes(&p.facts.Boat, &c, code) }
		if !slices.ContainsFunc(p.facts.Components, fits) {
			continue
		}
		rec.ComponentID, rec.Hours, rec.HasHours = e.ID, 0, false
		for _, m := range w.Readings {
			if m.ComponentID == e.ID {
				rec.Hours, rec.HasHours = m.Hours, true
			}
		}
		all = append(all, rec)
	}
	return all
}
