package schedule_test

import "bellbuoy/schedule"

// usual is a runabout on the lake with three ordinary years behind it.
func usual(name string) *schedule.Facts {
	f := afloat(name, "runabout", "own-dock", lake, "2022-04-20", motor("E1", "Engine", "outboard", "gasoline", "raw-water"))
	yearly(f, 2023, 2025, "E1", perSeason(50, 42))
	done(f, "2026-05-02", "", "", "fit-out")
	done(f, "2024-05-02", "E1", "100", "impeller", "spark-plugs", "valve-clearance", "impeller-check", "thermostat")
	return f
}

// changedBoats are boats for which something was set that goes before the
// catalogue, or whose facts are out of the ordinary.
func changedBoats() []variedBoat {
	return []variedBoat{
		{"severe-duty", "2026-06-01", severeDuty()},
		{"engine-family", "2026-09-01", engineFamily()},
		{"this-engine-and-the-owner", "2026-09-01", overridden()},
		{"follow-up", "2026-07-03", followedUp()},
		{"booked", "2026-09-01", booked()},
		{"done-elsewhere", "2026-11-25", elsewhere()},
		{"meter-replaced-and-a-slip", "2026-09-01", meters()},
		{"long-overdue", "2026-05-01", overdue()},
		{"moved-south", "2026-11-25", movedSouth()},
		{"no-engine-attributes", "2026-04-10", bare()},
		{"sold-mid-season", "2026-07-20", soldMidSeason()},
	}
}

func severeDuty() *schedule.Facts {
	f := usual("Osprey")
	f.Boat.Kind = "fishing"
	f.Components[0].Duty = 50
	return f
}

func engineFamily() *schedule.Facts {
	f := usual("Snipe")
	f.Components[0].Attr.Family = "shallow-four"
	return f
}

func overridden() *schedule.Facts {
	f := usual("Heron")
	f.Components = append(f.Components, part("T1", "trailer", "Trailer", nil))
	done(f, "2025-05-02", "T1", "", "trailer-bearings", "trailer-check", "trailer-tyres")
	f.Overrides = []schedule.Override{
		{BoatID: "B1", ComponentID: "E1", Rule: "impeller", Months: 24, Source: "this engine's manual, p. 60"},
		{BoatID: "B1", Rule: "trailer-bearings", ByCustomer: true, Source: "asked for by the owner"},
		{BoatID: "B1", Rule: "trailer-check", ByCustomer: true},
		{BoatID: "B1", Rule: "valve-clearance", Skip: true, Source: "hydraulic lifters"},
		{BoatID: "B1", Rule: "anodes", Months: 6, Source: "stray current at this dock"},
	}
	return f
}

func followedUp() *schedule.Facts {
	f := usual("Wren")
	f.FollowUps = []schedule.FollowUp{
		{ID: "1", BoatID: "B1", ComponentID: "E1", Service: "gear-lube", Title: "Gear lube: looked at again", Due: d("2026-08-01"), Raised: d("2026-07-02"), Finding: "lube slightly milky"},
		{ID: "2", BoatID: "B1", Service: "repair", Title: "Bilge pump float", Due: d("2026-10-01"), Raised: d("2026-07-02"), Finding: "float sticks."},
	}
	return f
}

func booked() *schedule.Facts {
	f := usual("Egret")
	f.Bookings = []schedule.Booking{{VisitID: "B1.lay-up.2026", BoatID: "B1", Kind: schedule.LayUp, Day: d("2026-09-22"), Minute: 9*60 + 30}}
	return f
}

func elsewhere() *schedule.Facts {
	f := usual("Dipper")
	done(f, "2026-10-05", "", "", "lay-up")
	done(f, "2026-10-05", "E1", "", "engine-oil", "gear-lube")
	for i := range f.Records {
		if f.Records[i].Day == d("2026-10-05") {
			f.Records[i].By = schedule.ByElsewhere
		}
	}
	return f
}

func meters() *schedule.Facts {
	f := usual("Pintail")
	f.Readings = []schedule.Reading{
		read("E1", "2026-05-10", "176"),
		{ComponentID: "E1", Day: d("2026-05-20"), Hours: 0, NewMeter: true, ReadBy: "shop"},
		read("E1", "2026-08-20", "31"), read("E1", "2026-08-22", "3100"),
	}
	return f
}

func overdue() *schedule.Facts {
	f := usual("Bittern")
	f.Records = f.Records[:0]
	done(f, "2022-10-02", "E1", "40", "lay-up", "engine-oil", "oil-filter", "gear-lube", "impeller")
	done(f, "2023-05-02", "", "", "fit-out")
	f.Readings = []schedule.Reading{read("E1", "2024-08-01", "130")}
	f.Components = append(f.Components, part("X1", "extinguisher", "Extinguisher", func(c *schedule.Component) { c.Made = d("2011-01-01") }))
	return f
}

func movedSouth() *schedule.Facts {
	f := usual("Avocet")
	f.Place, f.Boat.Place, f.Boat.Water = warm, warm.Name, "salt"
	return f
}

func bare() *schedule.Facts {
	return afloat("", "other", "own-dock", lake, "", part("E1", "engine", "Engine", nil))
}

func soldMidSeason() *schedule.Facts {
	f := usual("Godwit")
	f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-07-10"), d("2026-07-25")
	done(f, "2026-07-05", "", "", schedule.ServiceReconditionedThroughout)
	done(f, "2026-07-05", "E1", "190", "engine-oil", "gear-lube", "impeller")
	for i := range f.Records {
		if f.Records[i].Day == d("2026-07-05") {
			f.Records[i].By = schedule.ByBeforeSale
		}
	}
	return f
}
