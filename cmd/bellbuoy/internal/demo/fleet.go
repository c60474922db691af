package demo

// power is a way of driving a boat, in the words of components.csv.
type power struct {
	propulsion, stroke, fuel, cooling string
	families                          []string // invented engine families
	share                             int      // per cent of the boats of a kind
	twins                             int      // per cent of those with two of them
}

func outboard(share, twins int) power {
	return power{"outboard", "four", "gasoline", "raw-water", []string{"norrgale-f", "thalvik-4s", "embermoor-efi"}, share, twins}
}

func twoStroke(share int) power {
	return power{"outboard", "two", "gasoline", "raw-water", []string{"norrgale-di", "embermoor-2s"}, share, 0}
}

func sterndrive(cooling string, share, twins int) power {
	return power{"sterndrive", "four", "gasoline", cooling, []string{"gjallar-cove", "gjallar-bluff"}, share, twins}
}

func dieselDrive(share, twins int) power {
	return power{"sterndrive", "four", "diesel", "closed", []string{"havrud-brine"}, share, twins}
}

func inboard(cooling string, share int) power {
	return power{"inboard", "four", "gasoline", cooling, []string{"gjallar-tow"}, share, 0}
}

func dieselInboard(share, twins int) power {
	return power{"inboard", "four", "diesel", "closed", []string{"havrud-shoal", "skjeldmar-reach"}, share, twins}
}

func jet() power {
	return power{"jet", "four", "gasoline", "closed", []string{"embermoor-jet"}, 100, 0}
}

func electric(share int) power {
	return power{"electric", "", "electric", "air", []string{"voltgarn-e"}, share, 0}
}

// model is a line of boats of an invented maker. The maker's code is invented
// too: three letters of a kind that we know no builder to have (from memory;
// the register was not asked).
type model struct {
	maker, mic, name string
	lengthFt         float64
}

// kind is a kind of boat: how common it is, how it is driven and how
// many hours it runs in a season.
type kind struct {
	name   string // one of schedule.BoatKinds
	share  int    // per cent of the fleet
	hours  float64
	models []model
	powers []power
}

// kinds is the fleet's mix: invented, shaped after a small dealer on an inland
// lake. Hours a season are invented near the averages that are remembered from
// the EPA's nonroad activity figures (about 35 h for an outboard boat, 48 h for
// a sterndrive or inboard; from memory).
func kinds() []kind {
	return []kind{
		{"runabout", 26, 38, []model{
			{"Wendelmar", "QXW", "Larkwing 190", 19}, {"Wendelmar", "QXW", "Larkwing 210", 21}, {"Orrindale", "QXR", "Brisk 18", 18}, {"Skelmouth", "QXK", "Stillwake 20", 20},
		}, []power{sterndrive("raw-water", 38, 0), sterndrive("closed", 10, 0), outboard(42, 8), twoStroke(10)}},
		{"pontoon", 24, 40, []model{
			{"Pellimore", "QXP", "Porchlight 22", 22}, {"Pellimore", "QXP", "Porchlight 24", 24}, {"Quillet", "QXL", "Raftor 20", 20},
		}, []power{outboard(95, 5), electric(5)}},
		{"fishing", 20, 46, []model{
			{"Brackenhull", "QXB", "Reedpike 17", 17}, {"Brackenhull", "QXB", "Reedpike 19", 19}, {"Tarnholm", "QXT", "Coveguide 16", 16},
		}, []power{outboard(84, 14), twoStroke(16)}},
		{"cruiser", 9, 40, []model{
			{"Skelmouth", "QXK", "Overlake 28", 28}, {"Tarnholm", "QXT", "Saloonette 32", 32},
		}, []power{sterndrive("closed", 35, 45), sterndrive("raw-water", 15, 40), dieselDrive(20, 50), dieselInboard(30, 35)}},
		{"tow", 8, 58, []model{
			{"Orrindale", "QXR", "Furrow V22", 22}, {"Quillet", "QXL", "Surfane 21", 21},
		}, []power{inboard("raw-water", 60), inboard("closed", 40)}},
		{"sail", 5, 22, []model{
			{"Tarnholm", "QXT", "Sandling 26", 26}, {"Wendelmar", "QXW", "Longsheer 30", 30},
		}, []power{dieselInboard(65, 0), outboard(30, 0), electric(5)}},
		{"personal", 5, 55, []model{
			{"Quillet", "QXL", "Zipfin", 9.5}, {"Orrindale", "QXR", "Hopfin", 11},
		}, []power{jet()}},
		{"other", 3, 24, []model{
			{"Brackenhull", "QXB", "Bargelet 24", 24}, {"Pellimore", "QXP", "Dayhut", 18.5},
		}, []power{outboard(70, 10), electric(30)}},
	}
}

var boatNames = []string{
	"Second Wind", "Halcyon Dæ", "Perch Pressure", "Knot Today", "Aurora", "Lille Måke", "Wake Me Later", "Blue Heron", "Sjøfrøken",
	"Reel Quiet", "Étoile du Soir", "Loon’s Call", "Two Cent Tuesday", "Blue Hour", "Café Flottant", "Mist & Ember", "Slow Sunday",
	"Żuraw", "The \"Office\"", "Bramble", "Northing", "Cormorant", "Gull, Interrupted", "Dry Feet", "Øresight", "Whistledown",
}
