package mapping

import (
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/texts"
	"bellbuoy/store/imports/sheet"
)

// kind is how a field's cells are read.
type kind int

const (
	textField kind = iota
	dayField
	moneyField
	hoursField
	wordField
)

// field is one thing that a column may hold.
type field struct {
	name string
	kind kind
	past bool // of a day: it has been
	put  func(r *reading, c column, cell sheet.Cell)
}

// doneField and its parts name columns that hold the days of one service:
// "done.impeller", "done.impeller.hours", "done.impeller.amount".
const doneField = "done."

// Fields names what a column may hold, in the order in which help shows it.
// "done.SERVICE" stands for a column that holds the days of that service.
func Fields() []string {
	var names []string
	for _, f := range fields() {
		names = append(names, f.name)
	}
	return append(names, "done.SERVICE", "done.SERVICE.hours", "done.SERVICE.amount")
}

// fieldOf finds a field by its name; the fields of one service's column are
// made on demand.
func fieldOf(known []field, name string) (field, bool) {
	if i := slices.IndexFunc(known, func(f field) bool { return f.name == name }); i >= 0 {
		return known[i], true
	}
	rest, ok := strings.CutPrefix(name, doneField)
	if !ok || rest == "" || rest == Open {
		return field{}, false
	}
	service, part, _ := strings.Cut(rest, ".")
	switch part {
	case "":
		return field{name, dayField, true, func(r *reading, c column, cell sheet.Cell) { r.doneOn(c, cell, service) }}, true
	case "hours":
		return hours(name, func(r *reading) *measured { return &r.doneOf(service).hours }), true
	case "amount":
		return money(name, func(r *reading) *measure.Cents { return &r.doneOf(service).amount }), true
	}
	return field{}, false
}

func text(name string, at func(*reading) *string) field {
	return field{name, textField, false, func(r *reading, c column, cell sheet.Cell) { *at(r) = r.clean(c, cell) }}
}

func day(name string, past bool, at func(*reading) *civil.Day) field {
	return field{name, dayField, past, func(r *reading, c column, cell sheet.Cell) {
		d, err := ParseDay(cell, c.order, r.today)
		if err != nil {
			r.fault(c, err)
		} else if past && d > r.today+1 {
			r.faultf(c, "%s is still to come; want a day that has been", d)
		}
		*at(r) = d
	}}
}

func money(name string, at func(*reading) *measure.Cents) field {
	return field{name, moneyField, false, func(r *reading, c column, cell sheet.Cell) {
		v, err := ParseMoney(cell, c.style)
		r.fault(c, err)
		*at(r) = v
	}}
}

func hours(name string, at func(*reading) *measured) field {
	return field{name, hoursField, false, func(r *reading, c column, cell sheet.Cell) {
		v, estimate, err := ParseHours(cell, c.style)
		r.fault(c, err)
		*at(r) = measured{hours: v, has: err == nil, estimate: estimate}
	}}
}

func word(name string, list func(*reading) []string, at func(*reading) *string) field {
	return field{name, wordField, false, func(r *reading, c column, cell sheet.Cell) {
		*at(r) = r.word(c, name, strings.TrimSpace(cell.Text), list(r))
	}}
}

// listed makes a closed list of words one that is asked for.
func listed(words []string) func(*reading) []string { return func(*reading) []string { return words } }

// fields are all fields but the ones of single services' columns.
func fields() []field {
	all := slices.Concat(customerFields(), boatFields(), engineFields("engine", 0), engineFields("engine2", 1))
	return append(all,
		text("trailer.label", func(r *reading) *string { return &r.line.Trailer }),
		day("work.day", true, func(r *reading) *civil.Day { return &r.work.day }),
		field{"work.service", wordField, false, (*reading).services},
		hours("work.hours", func(r *reading) *measured { return &r.work.hours }),
		money("work.amount", func(r *reading) *measure.Cents { return &r.work.amount }),
		word("work.by", listed(schedule.Doers), func(r *reading) *string { return &r.work.by }),
		text("work.note", func(r *reading) *string { return &r.work.note }),
	)
}

func customerFields() []field {
	return []field{
		text("customer.id", func(r *reading) *string { return &r.line.Customer.ID }),
		text("customer.name", func(r *reading) *string { return &r.line.Customer.Name }),
		{"customer.name_last_first", textField, false, func(r *reading, c column, cell sheet.Cell) {
			r.line.Customer.Name = TurnName(r.clean(c, cell))
		}},
		text("customer.first_name", func(r *reading) *string { return &r.firstName }),
		text("customer.last_name", func(r *reading) *string { return &r.lastName }),
		{"customer.email", textField, false, (*reading).email},
		{"customer.phone", textField, false, (*reading).phone},
		text("customer.address", func(r *reading) *string { return &r.line.Customer.Address }),
		text("customer.city", func(r *reading) *string { return &r.line.Customer.City }),
		text("customer.region", func(r *reading) *string { return &r.line.Customer.Region }),
		text("customer.postal_code", func(r *reading) *string { return &r.line.Customer.PostalCode }),
		word("customer.contact_by", listed(schedule.ContactWays), func(r *reading) *string { return &r.line.Customer.ContactBy }),
		{"customer.language", wordField, false, func(r *reading, c column, cell sheet.Cell) {
			r.line.Customer.Language = r.word(c, "customer.language", texts.Named(strings.TrimSpace(cell.Text)), texts.Languages())
		}},
	}
}

func boatFields() []field {
	return []field{
		text("boat.id", func(r *reading) *string { return &r.line.Boat.ID }),
		{"boat.hin", textField, false, (*reading).hin},
		text("boat.registration", func(r *reading) *string { return &r.line.Registration }),
		day("boat.registration_expires", false, func(r *reading) *civil.Day { return &r.line.RegistrationExpires }),
		text("boat.name", func(r *reading) *string { return &r.line.Boat.Name }),
		text("boat.make", func(r *reading) *string { return &r.line.Boat.Make }),
		text("boat.model", func(r *reading) *string { return &r.line.Boat.Model }),
		{"boat.year", textField, false, (*reading).year},
		word("boat.kind", listed(schedule.BoatKinds), func(r *reading) *string { return &r.line.Boat.Kind }),
		{"boat.length_ft", textField, false, (*reading).length},
		word("boat.water", listed(schedule.Waters), func(r *reading) *string { return &r.line.Boat.Water }),
		word("boat.place", func(r *reading) []string { return r.opts.Places }, func(r *reading) *string { return &r.line.Boat.Place }),
		word("boat.berth", listed(schedule.Berths), func(r *reading) *string { return &r.line.Boat.Berth }),
		word("boat.winter_work", listed([]string{"yes", "no"}), func(r *reading) *string { return &r.line.WinterWork }),
		day("boat.sold_on", true, func(r *reading) *civil.Day { return &r.line.Boat.SoldOn }),
		day("boat.warranty_until", false, func(r *reading) *civil.Day { return &r.line.Boat.WarrantyUntil }),
	}
}

// engineFields are those of the first or second engine.
func engineFields(prefix string, i int) []field {
	attr := func(r *reading) *schedule.Attr { return &r.line.Engines[i].Component.Attr }
	return []field{
		text(prefix+".label", func(r *reading) *string { return &r.line.Engines[i].Component.Label }),
		text(prefix+".make", func(r *reading) *string { return &r.engines[i].maker }),
		text(prefix+".model", func(r *reading) *string { return &r.engines[i].model }),
		text(prefix+".family", func(r *reading) *string { return &attr(r).Family }),
		word(prefix+".propulsion", listed(schedule.Propulsions), func(r *reading) *string { return &attr(r).Propulsion }),
		word(prefix+".stroke", listed(schedule.Strokes), func(r *reading) *string { return &attr(r).Stroke }),
		word(prefix+".fuel", listed(schedule.Fuels), func(r *reading) *string { return &attr(r).Fuel }),
		word(prefix+".cooling", listed(schedule.Coolings), func(r *reading) *string { return &attr(r).Cooling }),
		day(prefix+".in_service", true, func(r *reading) *civil.Day { return &r.line.Engines[i].Component.InService }),
		hours(prefix+".hours", func(r *reading) *measured { return &r.engines[i].hours }),
		day(prefix+".hours_on", true, func(r *reading) *civil.Day { return &r.line.Engines[i].On }),
	}
}
