package schedule_test

import (
	"fmt"

	"bellbuoy/schedule"
)

// variedBoat is a boat with a story; everything in it is invented.
type variedBoat struct {
	name, today string
	f           *schedule.Facts
}

// part makes a component; attr is set by the caller.
func part(id, kind, label string, change func(*schedule.Component)) schedule.Component {
	c := schedule.Component{ID: id, BoatID: "B1", Kind: kind, Label: label}
	if change != nil {
		change(&c)
	}
	return c
}

func motor(id, label, propulsion, fuel, cooling string) schedule.Component {
	return part(id, "engine", label, func(c *schedule.Component) {
		c.Attr = schedule.Attr{Propulsion: propulsion, Stroke: "four", Fuel: fuel, Cooling: cooling}
	})
}

// afloat is a boat of a kind with components, at a place, sold on a day.
func afloat(name, kind, berth string, at schedule.Place, sold string, comps ...schedule.Component) *schedule.Facts {
	f := &schedule.Facts{
		Boat:  schedule.Boat{ID: "B1", Name: name, Kind: kind, Water: "fresh", Place: at.Name, Berth: berth},
		Place: at, Components: comps,
	}
	if sold != "" {
		f.Boat.SoldOn = d(sold)
	}
	return f
}

// done adds records of one day.
func done(f *schedule.Facts, day, comp, hours string, services ...string) {
	for _, s := range services {
		f.Records = append(f.Records, did(day, s, comp, hours))
	}
}

// yearly adds the usual work of a lay-up and a fit-out for some years.
func yearly(f *schedule.Facts, from, to int, comp string, hoursAt func(year int) string) {
	for y := from; y <= to; y++ {
		day := fmt.Sprintf("%d-10-02", y)
		done(f, day, "", "", "lay-up")
		done(f, day, comp, hoursAt(y), "engine-oil", "oil-filter", "gear-lube", "fuel-filter", "annual-inspection", "anodes", "grease")
		done(f, fmt.Sprintf("%d-05-02", y), "", "", "fit-out")
	}
}

func perSeason(first, each int) func(int) string {
	return func(y int) string { return fmt.Sprint(first + (y-2022)*each) }
}

func variedBoats() []variedBoat {
	all := []variedBoat{
		{"twins-share-a-visit", "2026-11-25", twins()},
		{"lay-up-missed", "2026-11-25", missedLayUp()},
		{"new-boat-breaks-in", "2026-06-10", newBoat()},
		{"used-boat-under-warranty", "2026-06-10", underWarranty()},
		{"history-unknown", "2026-04-10", unknownHistory()},
		{"warm-salt-diesel", "2026-11-25", warmDiesel()},
		{"hours-win", "2026-05-20", towBoat()},
		{"electric-pontoon", "2026-08-01", electric()},
		{"jet-on-a-trailer", "2026-09-01", jet()},
		{"cruiser-with-everything", "2026-09-01", cruiser()},
		{"sail-with-a-diesel", "2027-03-01", sail()},
		{"meter-long-unread", "2027-04-19", longUnread()},
	}
	return append(all, changedBoats()...)
}

// longUnread was worked on for years without a look at the meter.
func longUnread() *schedule.Facts {
	engine := motor("B1-E1", "", "outboard", "gasoline", "raw-water")
	engine.InService = d("2018-05-03")
	f := afloat("Dry Feet", "pontoon", "trailer-home", lake, "", engine)
	f.Records = append(f.Records, did("2024-10-16", "engine-oil", "B1-E1", ""), did("2024-10-16", "lay-up", "", ""))
	return f
}

func twins() *schedule.Facts {
	f := afloat("Perch", "cruiser", "own-dock", lake, "2022-04-20",
		motor("E1", "Port engine", "outboard", "gasoline", "raw-water"), motor("E2", "Starboard engine", "outboard", "gasoline", "raw-water"))
	yearly(f, 2023, 2026, "E1", perSeason(128, 46))
	yearly(f, 2023, 2026, "E2", perSeason(108, 45))
	done(f, "2024-04-12", "E1", "188", "impeller")
	done(f, "2024-04-12", "E2", "170", "impeller")
	return f
}

func missedLayUp() *schedule.Facts {
	f := afloat("Grebe", "runabout", "own-lift", lake, "2021-06-01", motor("E1", "Engine", "sterndrive", "gasoline", "raw-water"))
	yearly(f, 2022, 2024, "E1", perSeason(90, 40))
	return f
}

func newBoat() *schedule.Facts {
	f := afloat("Merganser", "runabout", "own-dock", lake, "2026-05-10", motor("E1", "Engine", "outboard", "gasoline", "raw-water"),
		part("BAT", "battery", "Battery", func(c *schedule.Component) { c.InService = d("2026-05-10") }))
	f.Components[0].InService = d("2026-05-10")
	f.Boat.WarrantyUntil = d("2027-05-09")
	return f
}

func underWarranty() *schedule.Facts {
	f := afloat("Teal", "fishing", "trailer-home", lake, "2026-05-20", motor("E1", "Engine", "outboard", "gasoline", "raw-water"),
		part("T1", "trailer", "Trailer", func(c *schedule.Component) { c.Attr.Extra = "brakes=disc" }))
	f.Components[0].InService = d("2017-05-01")
	f.Boat.WarrantyUntil = d("2026-08-18")
	done(f, "2026-05-12", "", "", schedule.ServiceReconditionedThroughout)
	done(f, "2026-05-12", "E1", "310", "engine-oil", "gear-lube", "impeller", "spark-plugs", "compression-test")
	for i := range f.Records {
		f.Records[i].By = schedule.ByBeforeSale
	}
	return f
}

func unknownHistory() *schedule.Facts {
	return afloat("Coot", "runabout", "own-dock", lake, "", motor("E1", "Engine", "sterndrive", "gasoline", "raw-water"),
		part("BAT", "battery", "Battery", nil), part("X1", "extinguisher", "Extinguisher", nil), part("T1", "trailer", "Trailer", nil))
}

func warmDiesel() *schedule.Facts {
	f := afloat("Pelican", "cruiser", "own-dock", warm, "2020-02-01", motor("E1", "Port engine", "inboard", "diesel", "closed"), motor("E2", "Starboard engine", "inboard", "diesel", "closed"))
	f.Boat.Water = "salt"
	for _, e := range []string{"E1", "E2"} {
		done(f, "2025-03-10", e, "900", "engine-oil", "oil-filter", "fuel-filter", "impeller", "coolant")
		done(f, "2026-03-12", e, "1010", "engine-oil", "oil-filter", "fuel-filter", "anodes")
	}
	return f
}

func towBoat() *schedule.Facts {
	f := afloat("Tern", "tow", "own-lift", lake, "2018-04-01", motor("E1", "Engine", "inboard", "gasoline", "raw-water"))
	for y := 2019; y <= 2025; y++ {
		done(f, fmt.Sprintf("%d-10-01", y), "E1", fmt.Sprint(140*(y-2017)), "engine-oil", "oil-filter", "annual-inspection")
		done(f, fmt.Sprintf("%d-10-01", y), "", "", "lay-up")
	}
	done(f, "2026-05-02", "E1", "1120", "engine-oil", "oil-filter", "seawater-pump", "spark-plugs")
	done(f, "2026-05-02", "", "", "fit-out")
	return f
}

func electric() *schedule.Facts {
	f := afloat("Plover", "pontoon", "own-dock", lake, "2025-05-01", motor("E1", "Motor", "outboard", "electric", ""),
		part("BAT", "battery", "House battery", func(c *schedule.Component) { c.InService = d("2022-04-01") }))
	f.Components[0].InService = d("2025-05-01")
	done(f, "2025-10-04", "", "", "lay-up")
	done(f, "2026-05-04", "", "", "fit-out")
	return f
}

func jet() *schedule.Facts {
	f := afloat("Swift", "personal", "trailer-home", lake, "2023-06-01", motor("E1", "Engine", "jet", "gasoline", "raw-water"),
		part("T1", "trailer", "Trailer", func(c *schedule.Component) { c.InService = d("2019-05-01"); c.Attr.Extra = "brakes=none" }))
	yearly(f, 2023, 2025, "E1", perSeason(20, 35))
	done(f, "2024-05-02", "T1", "", "trailer-bearings", "trailer-check")
	return f
}

func cruiser() *schedule.Facts {
	f := afloat("Gannet", "cruiser", "shop-heated", lake, "2019-04-01",
		motor("E1", "Engine", "inboard", "diesel", "closed"),
		part("G1", "generator", "Generator", func(c *schedule.Component) { c.Attr.Fuel = "diesel" }),
		part("BAT", "battery", "Battery", func(c *schedule.Component) { c.InService = d("2021-04-01") }),
		part("X1", "extinguisher", "Galley extinguisher", func(c *schedule.Component) { c.Made = d("2015-01-01") }),
		part("X2", "extinguisher", "Engine room extinguisher", func(c *schedule.Component) { c.Made = d("2013-01-01") }),
		part("FL", "flares", "Flares", func(c *schedule.Component) { c.Expires = d("2026-08-31") }),
		part("CO", "co-alarm", "CO alarm", func(c *schedule.Component) { c.Made = d("2020-01-01") }),
		part("LJ", "life-jacket", "Inflatable jackets", func(c *schedule.Component) { c.InService = d("2022-05-01") }),
		part("REG", "registration", "Registration", func(c *schedule.Component) { c.Expires = d("2027-03-31") }),
	)
	yearly(f, 2021, 2025, "E1", perSeason(300, 60))
	done(f, "2024-05-02", "E1", "400", "impeller", "coolant")
	done(f, "2025-10-02", "G1", "210", "generator-oil", "generator-lay-up")
	return f
}

func sail() *schedule.Facts {
	f := afloat("Shearwater", "sail", "shop-outside", lake, "2015-04-01", motor("E1", "Engine", "inboard", "diesel", "raw-water"))
	yearly(f, 2021, 2026, "E1", perSeason(700, 18))
	done(f, "2023-04-20", "E1", "720", "impeller")
	return f
}
