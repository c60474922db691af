package columns

import (
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/schedule/texts"
)

// Boat is a row of boats.csv: the hull as one owner has or had it. Its SoldOn is the
// day from which that owner has it.
type Boat struct {
	schedule.Boat
	CustomerID string // "" where the shop took the boat back on that day
	Origin     string // OriginSold, OriginService, or "" where the file does not say
	Winter     string // what it says of winter work: yes, no, or "" for nothing
}

// Reading is a row of readings.csv.
type Reading struct {
	schedule.Reading
	HasHours bool
}

// The origins of a customer's boat: sold by us on the row's day, or brought by a
// customer whom we only serve and who has had it since that day.
const (
	OriginSold    = "sold"
	OriginService = "service"
)

// Names are the five files in the order in which they refer to each other.
func Names() []string {
	return []string{Customers.Name, Boats.Name, Components.Name, History.Name, Readings.Name}
}

// Customers is customers.csv.
var Customers = File[schedule.Customer]{Name: "customers.csv", ID: "customer_id", Columns: []Column[schedule.Customer]{
	id("customer_id", func(c *schedule.Customer) *string { return &c.ID }),
	required(text("name", func(c *schedule.Customer) *string { return &c.Name })),
	text("email", func(c *schedule.Customer) *string { return &c.Email }),
	text("phone", func(c *schedule.Customer) *string { return &c.Phone }),
	text("address", func(c *schedule.Customer) *string { return &c.Address }),
	text("city", func(c *schedule.Customer) *string { return &c.City }),
	text("region", func(c *schedule.Customer) *string { return &c.Region }),
	text("postal_code", func(c *schedule.Customer) *string { return &c.PostalCode }),
	word("contact_by", schedule.ContactWays, func(c *schedule.Customer) *string { return &c.ContactBy }),
	written(word("language", texts.Languages(), func(c *schedule.Customer) *string { return &c.Language }), texts.Named),
}}

// Boats is boats.csv.
var Boats = File[Boat]{Name: "boats.csv", ID: "boat_id", Columns: []Column[Boat]{
	id("boat_id", func(b *Boat) *string { return &b.ID }),
	required(optionalID("customer_id", func(b *Boat) *string { return &b.CustomerID })),
	written(text("hin", func(b *Boat) *string { return &b.HIN }), hin.Written),
	text("name", func(b *Boat) *string { return &b.Name }),
	text("make", func(b *Boat) *string { return &b.Make }),
	text("model", func(b *Boat) *string { return &b.Model }),
	whole("year", 0, modelYears, func(b *Boat) *int { return &b.Year }),
	filled("kind", schedule.BoatKinds, func(b *Boat) *string { return &b.Kind }),
	feet("length_ft", func(b *Boat) *float64 { return &b.LengthFt }),
	filled("water", schedule.Waters, func(b *Boat) *string { return &b.Water }),
	vouched("place", func(s *Shop) []string { return s.Places }, "empty; want the name of a place from the shop's settings", func(b *Boat) *string { return &b.Place }),
	filled("berth", schedule.Berths, func(b *Boat) *string { return &b.Berth }),
	required(day("sold_on", func(b *Boat) *civil.Day { return &b.SoldOn })),
	day("warranty_until", func(b *Boat) *civil.Day { return &b.WarrantyUntil }),
	word("origin", []string{OriginSold, OriginService}, func(b *Boat) *string { return &b.Origin }),
	written(word("winter_work", []string{"yes", "no"}, func(b *Boat) *string { return &b.Winter }), strings.ToLower),
}}

// modelYears are the years that a boat may be of.
func modelYears(s *Shop) (from, to int) { return 1850, s.Today.Year() + 2 }

// Components is components.csv. Any further column is an attribute of the shop's
// own; the names left out are the boat's, or stand in columns of their own.
var Components = File[schedule.Component]{Name: "components.csv", ID: "component_id", Columns: []Column[schedule.Component]{
	id("component_id", func(p *schedule.Component) *string { return &p.ID }),
	id("boat_id", func(p *schedule.Component) *string { return &p.BoatID }),
	filled("kind", schedule.ComponentKinds, func(p *schedule.Component) *string { return &p.Kind }),
	text("label", func(p *schedule.Component) *string { return &p.Label }),
	word("propulsion", schedule.Propulsions, func(p *schedule.Component) *string { return &p.Attr.Propulsion }),
	word("stroke", schedule.Strokes, func(p *schedule.Component) *string { return &p.Attr.Stroke }),
	word("fuel", schedule.Fuels, func(p *schedule.Component) *string { return &p.Attr.Fuel }),
	word("cooling", schedule.Coolings, func(p *schedule.Component) *string { return &p.Attr.Cooling }),
	pastDay("in_service", func(p *schedule.Component) *civil.Day { return &p.InService }),
	day("expires", func(p *schedule.Component) *civil.Day { return &p.Expires }),
	stamp("made", func(p *schedule.Component) *civil.Day { return &p.Made }),
	text("family", func(p *schedule.Component) *string { return &p.Attr.Family }),
	whole("duty", 100, func(*Shop) (from, to int) { return 1, 1000 }, func(p *schedule.Component) *int { return &p.Duty }),
},
	own:    func(p *schedule.Component) *string { return &p.Attr.Extra },
	notOwn: []string{"water", "berth", "boat_kind", "place", "customer_id"},
}

// History is history.csv. Without a record_id a record is known by what it says.
var History = File[schedule.Record]{Name: "history.csv", Columns: []Column[schedule.Record]{
	id("boat_id", func(r *schedule.Record) *string { return &r.BoatID }),
	required(optionalID("component_id", func(r *schedule.Record) *string { return &r.ComponentID })),
	dayOf("day", "empty; want the day of the work, YYYY-MM-DD", func(r *schedule.Record) *civil.Day { return &r.Day }),
	vouched("service", func(s *Shop) []string { return s.Services }, "empty; want the code of a service", func(r *schedule.Record) *string { return &r.Service }),
	hours("hours", func(r *schedule.Record) (*schedule.Hours, *bool) { return &r.Hours, &r.HasHours }),
	cents("amount", func(r *schedule.Record) *schedule.Cents { return &r.Amount }),
	filled("by", schedule.Doers, func(r *schedule.Record) *string { return &r.By }),
	text("note", func(r *schedule.Record) *string { return &r.Note }),
	optionalID("record_id", func(r *schedule.Record) *string { return &r.ID }),
}}

// Readings is readings.csv.
var Readings = File[Reading]{Name: "readings.csv", Columns: []Column[Reading]{
	id("component_id", func(r *Reading) *string { return &r.ComponentID }),
	dayOf("day", "empty; want the day of the reading, YYYY-MM-DD", func(r *Reading) *civil.Day { return &r.Day }),
	shown("hours", "empty; want what the meter showed", func(r *Reading) (*schedule.Hours, *bool) { return &r.Hours, &r.HasHours }),
	text("read_by", func(r *Reading) *string { return &r.ReadBy }),
	yes("new_meter", func(r *Reading) *bool { return &r.NewMeter }),
}}
