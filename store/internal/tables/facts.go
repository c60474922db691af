package tables

import (
	"bellbuoy/schedule"
	"bellbuoy/schedule/level"
	"bellbuoy/store/internal/kernel"
)

// The columns of each table that a plan reads, in the order in which the
// functions below take them. The boat's id always comes first.
const (
	BoatColumns      = "id, hin, name, make, model, year, kind, length_ft, water, place, berth, sold_on, warranty_until, gone, winter_work"
	ComponentColumns = "boat_id, id, kind, label, in_service, expires, made, propulsion, stroke, fuel, cooling, family, extra, duty"
	RecordColumns    = "boat_id, day, id, component_id, service, hours, amount, done_by, note"
	ReadingColumns   = "boat_id, component_id, day, new_meter, hours, read_by"
	FollowUpColumns  = "boat_id, id, component_id, service, title, due, raised, finding, asked, alone, labour, price"
	OverrideColumns  = "boat_id, component_id, rule, months, hours, skip, by_customer, source"
	BookingColumns   = "boat_id, visit_id, kind, day, minute, over, reason"
	VisitColumns     = "boat_id, id, kind, season, open_day, close_day, day, deadline, labour, price, priority, items, week, told_week, last_day, lapsed, missed_day, week_why, week_from, yard, lifts"
)

// ReadBoat reads a row of [BoatColumns].
func ReadBoat(c *kernel.Row) schedule.Boat {
	return schedule.Boat{
		ID: c.Text(0), HIN: c.Text(1), Name: c.Text(2), Make: c.Text(3), Model: c.Text(4),
		Year: int(c.Int(5)), Kind: c.Text(6), LengthFt: c.Real(7), Water: c.Text(8), Place: c.Text(9), Berth: c.Text(10),
		SoldOn: c.Day(11), WarrantyUntil: c.Day(12), Gone: c.Day(13), WinterWork: c.Bool(14),
	}
}

// ReadComponent leaves out what a component's attributes take from its boat;
// see [CopyBoatAttr].
func ReadComponent(c *kernel.Row) schedule.Component {
	return schedule.Component{
		BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Label: c.Text(3),
		InService: c.Day(4), Expires: c.Day(5), Made: c.Day(6), Duty: int(c.Int(13)),
		Attr: schedule.Attr{
			Kind: c.Text(2), Propulsion: c.Text(7), Stroke: c.Text(8), Fuel: c.Text(9), Cooling: c.Text(10),
			Family: c.Text(11), Extra: c.Text(12),
		},
	}
}

// CopyBoatAttr fills in what a component takes from its boat.
func CopyBoatAttr(part *schedule.Component, b *schedule.Boat) {
	part.Attr.Water, part.Attr.Berth, part.Attr.BoatKind = b.Water, b.Berth, b.Kind
}

// ReadRecord reads a row of [RecordColumns].
func ReadRecord(c *kernel.Row) schedule.Record {
	return schedule.Record{
		BoatID: c.Text(0), Day: c.Day(1), ID: c.Text(2), ComponentID: c.Text(3), Service: c.Text(4),
		Hours: c.Hours(5), HasHours: !c.Null(5), Amount: c.Cents(6), By: c.Text(7), Note: c.Text(8),
	}
}

// ReadReading reads a row of [ReadingColumns].
func ReadReading(c *kernel.Row) schedule.Reading {
	return schedule.Reading{
		ComponentID: c.Text(1), Day: c.Day(2), NewMeter: c.Bool(3), Hours: c.Hours(4), ReadBy: c.Text(5),
	}
}

// ReadFollowUp reads a row of [FollowUpColumns].
func ReadFollowUp(c *kernel.Row) schedule.FollowUp {
	return schedule.FollowUp{
		BoatID: c.Text(0), ID: c.Text(1), ComponentID: c.Text(2), Service: c.Text(3), Title: c.Text(4),
		Due: c.Day(5), Raised: c.Day(6), Finding: c.Text(7), Asked: c.Bool(8), Alone: c.Bool(9), Labour: int(c.Int(10)), Price: schedule.Cents(c.Int(11)),
	}
}

// ReadOverride reads a row of [OverrideColumns].
func ReadOverride(c *kernel.Row) schedule.Override {
	return schedule.Override{
		BoatID: c.Text(0), ComponentID: c.Text(1), Rule: c.Text(2), Months: int(c.Int(3)), Hours: c.Hours(4),
		Skip: c.Bool(5), ByCustomer: c.Bool(6), Source: c.Text(7),
	}
}

// ReadBooking reads a row of [BookingColumns].
func ReadBooking(c *kernel.Row) schedule.Booking {
	return schedule.Booking{
		BoatID: c.Text(0), VisitID: c.Text(1), Kind: c.Text(2), Day: c.Day(3), Minute: int(c.Int(4)), Over: c.Bool(5), Reason: c.Text(6),
	}
}

// ReadVisit leaves Booking out; see [attachBookings].
func ReadVisit(c *kernel.Row) schedule.Visit {
	v := schedule.Visit{
		BoatID: c.Text(0), ID: c.Text(1), Kind: c.Text(2), Season: int(c.Int(3)),
		Open: c.Day(4), Close: c.Day(5), Day: c.Day(6), Deadline: c.Day(7),
		Labour: int(c.Int(8)), Price: c.Cents(9), Priority: int(c.Int(10)), Items: c.Lines(11),
		Week: c.Week(12), Last: c.Day(14), Lapsed: c.Bool(15), Missed: c.Day(16),
		Yard: int(c.Int(19)), Lifts: int(c.Int(20)),
	}
	v.Told = v.Week != 0 && v.Week == c.Week(13)
	if why := level.Reason(c.Text(17)); why != "" {
		// A reason speaks of one week beside its own: the wished or the earlier one.
		v.WeekWhy = level.Why{Reason: why, Wish: c.Week(18), Prior: c.Week(18), Deadline: v.Deadline}
	}
	return v
}
