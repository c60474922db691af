package boat

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/hin"
	"bellbuoy/store"
)

// soldEngines is how many engines of a new hull the form has room for.
const soldEngines = 4

// warrantyUsual is the warranty on a used engine that the form begins with, in
// days. Common practice, no source: dealers give 30 to 90 days.
const warrantyUsual = 90

// soldPage is the one form of a sale.
type soldPage struct {
	Form     string
	Day      civil.Day
	Warranty int
	Refused  string
	Service  bool // a boat that we did not sell, of a new service customer

	HIN     string         // looked for
	Known   *schedule.Boat // the boat on file, nil for a new one
	Remarks []string       // on the number that was looked for
	Owner   schedule.Customer
	Meters  []recordMeter
	Engines []soldEngine // of the boat on file; else of the form's rows

	Find    string // the buyer that was looked for
	Matches []schedule.Customer
	Buyer   schedule.Customer // the one chosen, without an id for a new one

	Pending []store.OpenAnswer // owners who say that they sold
	Work    []service          // what is done before a sale, and fits the boat
	Booked  []schedule.Booking // for the boat in stock
	LaidUp  civil.Day          // this winter's lay-up, where it is on record

	facts schedule.Facts // of the boat on file; else of what the form says of a new one

	Kinds, Waters, Berths, Places              []string
	Propulsions, Strokes, Fuels, Coolings, Way []string
}

// soldEngine is an engine of the form; N numbers the fields of a new one.
type soldEngine struct {
	component
	N int
}

// beforeSale are the usual services of reconditioning a used boat, in working
// order. Common practice, no source.
func beforeSale() []string {
	return []string{"engine-oil", "oil-filter", "gear-lube", "drive-lube", "fuel-filter", "spark-plugs", "impeller", "seawater-pump",
		"thermostat", "anodes", "compression-test", "diagnostics", "battery-test", "hull-check", "trailer-check", "trailer-bearings", "fit-out"}
}

func (s pages) soldForm(r *http.Request) (site.Response, error) {
	p, err := s.soldPage(r)
	return site.Response{Page: "sold.html", Data: p}, err
}

// soldPage fills the form from what was looked up.
func (s pages) soldPage(r *http.Request) (*soldPage, error) {
	p := &soldPage{
		Service: r.FormValue("origin") == "service",
		Form:    site.NewForm(), Day: s.Today(), Warranty: warrantyUsual, HIN: r.FormValue("find_hin"), Find: r.FormValue("find_buyer"),
		Kinds: schedule.BoatKinds, Waters: schedule.Waters, Berths: schedule.Berths, Places: s.App.Config.PlaceNames(),
		Propulsions: schedule.Propulsions, Strokes: schedule.Strokes, Fuels: schedule.Fuels, Coolings: schedule.Coolings, Way: schedule.ContactWays,
	}
	if err := s.lookUpBoat(r, p); err != nil {
		return nil, err
	}
	cat := s.App.Planner.Catalogue()
	for _, code := range beforeSale() {
		if cat.HasService(code) && (s.fits(p, code) || slices.Contains(r.PostForm["work"], code)) {
			p.Work = append(p.Work, service{code, cat.ServiceTitle(code)})
		}
	}
	if err := s.lookUpBuyer(r, p); err != nil {
		return nil, err
	}
	var err error
	p.Pending, err = s.App.DB.OpenAnswers(r.Context(), schedule.AnswerSold, 50)
	return p, err
}

// lookUpBoat finds the hull on file, by its number or its id.
func (s pages) lookUpBoat(r *http.Request, p *soldPage) error {
	var b schedule.Boat
	var err error
	switch id := r.FormValue("boat"); {
	case id != "":
		b, err = s.App.DB.Boat(r.Context(), id)
	case p.HIN != "":
		p.Remarks = hin.Remarks(p.HIN)
		b, err = s.App.DB.BoatByHIN(r.Context(), p.HIN)
	default:
		err = store.ErrNotFound
	}
	if errors.Is(err, store.ErrNotFound) {
		for i := range soldEngines {
			id := store.NewID + "engine-" + strconv.Itoa(i+1)
			p.Engines = append(p.Engines, soldEngine{component{id, [soldEngines]string{"Engine", "Second engine", "Third engine", "Fourth engine"}[i]}, i + 1})
		}
		if parts, err := readNewParts(r); err == nil { // else the fault is told when the form is read
			p.facts.Boat = schedule.Boat{Kind: r.PostFormValue("kind"), Water: r.PostFormValue("water"), Berth: r.PostFormValue("berth")}
			p.facts.Components = parts
		}
		return nil
	}
	if err != nil {
		return err
	}
	p.Known = &b
	if p.Owner, err = s.App.OwnerOf(r.Context(), b.ID); err != nil {
		return err
	}
	if p.facts, err = s.App.Facts(r.Context(), b.ID); err != nil {
		return err
	}
	if p.Booked, err = s.bookedFrom(r, b.ID); err != nil {
		return err
	}
	f := &p.facts
	for i := range f.Components {
		if c := &f.Components[i]; c.Kind == "engine" {
			p.Engines = append(p.Engines, soldEngine{component{c.ID, label(c)}, len(p.Engines) + 1})
		}
	}
	p.LaidUp = laidUpOn(f, s.Today())
	if d, err := civil.Parse(r.PostFormValue("day")); err == nil {
		p.LaidUp = laidUpOn(f, d)
	}
	for _, o := range s.App.Planner.HoursOutlook(f, s.Today()) {
		p.Meters = append(p.Meters, recordMeter{component{o.Component.ID, label(&o.Component)}, o.LastDay, o.LastHours, o.Expected})
	}
	return nil
}

// fits reports whether a service can be done on some part of the boat, or
// nobody has said yet what a new one is made of.
func (s pages) fits(p *soldPage, code string) bool {
	hull := schedule.Component{Kind: "hull"}
	return len(p.facts.Components) == 0 || s.App.Planner.Takes(&p.facts.Boat, &hull, code) ||
		slices.ContainsFunc(p.facts.Components, func(c schedule.Component) bool { return s.App.Planner.Takes(&p.facts.Boat, &c, code) })
}

// laidUpOn is the day on which the boat was laid up for the winter that a day
// belongs to, none if some engine of it was not, by the records.
func laidUpOn(f *schedule.Facts, day civil.Day) civil.Day {
	var last civil.Day
	for i := range f.Components {
		c := &f.Components[i]
		if c.Kind != "engine" {
			continue
		}
		var done civil.Day
		for _, r := range f.Records {
			if r.Service == schedule.LayUp && (r.ComponentID == "" || r.ComponentID == c.ID) && schedule.LayUpSeason(r.Day) == schedule.LayUpSeason(day) {
				done = max(done, r.Day)
			}
		}
		if done == 0 {
			return 0
		}
		last = max(last, done)
	}
	return last
}

// lookUpBuyer finds customers on file, or the one that was chosen.
func (s pages) lookUpBuyer(r *http.Request, p *soldPage) (err error) {
	if id := r.FormValue("customer"); id != "" {
		p.Buyer, err = s.App.DB.Customer(r.Context(), id)
		return err
	}
	p.Matches, err = s.App.DB.FindCustomers(r.Context(), p.Find, 12)
	return err
}

// sell takes the form. A fault shows it again with everything that was entered.
func (s pages) sell(r *http.Request) (site.Response, error) {
	p, err := s.soldPage(r)
	if err != nil {
		return site.Response{}, err
	}
	sale, err := s.readSale(r, p)
	if err == nil {
		var sold store.Sold
		var welcomed bool
		sold, welcomed, err = s.App.Sell(r.Context(), s.Now(), site.Actor(r), sale)
		switch {
		case err != nil:
		case p.Service:
			return site.Response{To: "/boats/" + url.PathEscape(sold.BoatID), Note: "On file as a service customer's boat." + s.bookedWords(p.Booked, sale.Booked)}, nil
		default:
			return site.Response{To: "/boats/" + url.PathEscape(sold.BoatID) + "/delivery-sheet", Note: "Sold." + s.bookedWords(p.Booked, sale.Booked) + " " + welcomeWords(welcomed) + compressionWords(sale.Work.Measurements)}, nil
		}
	}
	if why, ok := site.Refused(err); ok {
		p.Refused = why.Words()
		return site.Response{Page: "sold.html", Data: p, Refused: why}, nil
	}
	return site.Response{}, err
}

// welcomeWords says what became of the welcome mail.
func welcomeWords(queued bool) string {
	if queued {
		return "The welcome email is on its way."
	}
	return "No welcome email was queued: sending is switched off, or the owner has no email address or wants no email."
}

// compressionWords warns of a compression test that its rule does not pass: the
// boat goes out of the door with a promise.
func compressionWords(all []store.Measurement) string {
	words := ""
	for _, m := range all {
		if m.Kind != store.MeasureCompression {
			continue
		}
		if v := compression.Judge(m.Figures, compression.Find(m.Rule)); v.Grade != compression.Good {
			words += " Compression: " + v.String()
		}
	}
	return words
}
