package schedule

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
)

// Hours and Cents are the program's exact quantities; see package measure.
type (
	Hours = measure.Hours
	Cents = measure.Cents
)

// The closed lists of words that the five files may use. A kind of component
// outside the list is reported, never dropped.
var (
	// ComponentKinds are what a rule can apply to.
	ComponentKinds = []string{"engine", "drive", "generator", "trailer", "battery", "extinguisher", "flares", "co-alarm", "life-jacket", "registration", "hull"}
	// BoatKinds are the kinds of boat, used for the prior on running hours.
	BoatKinds = []string{"runabout", "pontoon", "fishing", "cruiser", "tow", "sail", "personal", "other"}
	// Waters are what the boat floats in.
	Waters = []string{"fresh", "salt"}
	// Berths say where the boat lives.
	Berths = []string{"own-dock", "own-lift", "trailer-home", "shop-heated", "shop-inside", "shop-outside"}
	// Propulsions, Strokes, Fuels and Coolings describe an engine.
	Propulsions = []string{"outboard", "sterndrive", "inboard", "jet", "electric"}
	Strokes     = []string{"two", "four"}
	Fuels       = []string{"gasoline", "diesel", "electric"}
	Coolings    = []string{"raw-water", "closed", "air"}
	// ContactWays are how a customer wants to be told.
	ContactWays = []string{"email", "phone", "none"}
	// Doers are who did a piece of work.
	Doers = []string{"shop", "elsewhere", "before-sale"}
)

// Who did a piece of work.
const (
	ByShop       = "shop"
	ByElsewhere  = "elsewhere"
	ByBeforeSale = "before-sale"
)

// Customer is a person or household with ways to reach them.
type Customer struct {
	ID         string
	Name       string
	Email      string // a bare address, "" if none
	Phone      string
	Address    string
	City       string
	Region     string
	PostalCode string
	ContactBy  string // one of ContactWays
	Language   string // one of texts.Languages, "" for the shop's
}

// Boat is a hull, whoever owns it.
type Boat struct {
	ID            string
	HIN           string // hull identification number, "" for a boat without one
	Name          string
	Make, Model   string
	Year          int    // model year, 0 if unknown
	Kind          string // one of BoatKinds
	LengthFt      float64
	Water         string    // one of Waters
	Place         string    // the name of a Place
	Berth         string    // one of Berths
	SoldOn        civil.Day // the latest sale by this shop; none if it never sold the boat
	WarrantyUntil civil.Day // last day of the sale's engine warranty; none if there is none
	WinterWork    bool      // its owner agrees that what is done cold may be done in the winter
	Gone          civil.Day // scrapped or gone from our care on that day; none while in care
}

// Title is what desk and customer call the boat: its name, else year, make and model.
func (b *Boat) Title() string {
	if b.Name != "" {
		return b.Name
	}
	s := strings.TrimSpace(b.Make + " " + b.Model)
	if b.Year != 0 {
		s = strings.TrimSpace(strconv.Itoa(b.Year) + " " + s)
	}
	if s == "" {
		return "Boat " + b.ID
	}
	return s
}

// Ownership is a customer having a boat from a day on. To is the first day on
// which they no longer have it, none for the current owner.
type Ownership struct {
	BoatID, CustomerID string
	From, To           civil.Day
}

// Component is what a rule applies to. The hull itself is a component too:
// every boat has one of kind "hull" whose ID is the boat's.
type Component struct {
	ID        string
	BoatID    string
	Kind      string    // one of ComponentKinds
	Label     string    // how the boat's people tell it from its sisters: "Port engine"
	InService civil.Day // first day in use, none if unknown
	Expires   civil.Day // printed on the thing or its paper: last day it may be used
	Made      civil.Day // day of manufacture; a stamp that gives only a year is its 1 January
	Attr      Attr
	// Duty scales every interval of this component, in percent: 100 is normal,
	// 50 is severe duty (do it twice as often). 0 means 100.
	Duty int
}

// RetiredComponent is a component that was replaced or taken off on a day.
type RetiredComponent struct {
	Component
	On civil.Day
}

// Attr are the attributes that rules select on. It is comparable, so the rules
// that apply to an Attr are worked out once.
type Attr struct {
	Kind                              string // the component's kind
	Propulsion, Stroke, Fuel, Cooling string // engines and drives
	Family                            string // engine family, the shop's own name for "these share a manual"
	Water, Berth, BoatKind            string // the boat's, copied here
	// Extra are further attributes in canonical form: "key=value" joined by
	// ";" in rising order of key, for example "brakes=disc;tyres=two".
	Extra string
}

// Get returns the attribute named as in a rule's "where" table, "" if not set.
func (a Attr) Get(key string) string {
	switch key {
	case "kind":
		return a.Kind
	case "propulsion":
		return a.Propulsion
	case "stroke":
		return a.Stroke
	case "fuel":
		return a.Fuel
	case "cooling":
		return a.Cooling
	case "family":
		return a.Family
	case "water":
		return a.Water
	case "berth":
		return a.Berth
	case "boat_kind":
		return a.BoatKind
	}
	for rest := a.Extra; rest != ""; {
		var pair string
		pair, rest, _ = strings.Cut(rest, ";")
		if k, v, _ := strings.Cut(pair, "="); k == key {
			return v
		}
	}
	return ""
}

// Record is a piece of work that was done: the ground the next plan stands on.
type Record struct {
	ID          string
	BoatID      string
	ComponentID string // "" for the whole boat: it then counts for every component that the service's rules apply to
	Day         civil.Day
	Service     string // service code
	Hours       Hours  // the component's meter on that day, HasHours says whether it was read
	HasHours    bool
	Amount      Cents  // what the customer paid, labour and parts, before tax
	By          string // one of Doers
	Note        string
}

// Title names the work of a record: as the catalog names its service, or for work
// that no rule knows in the words of whoever asked for it.
func (r *Record) Title(cat *rules.Catalogue) string { return r.TitleIn(cat, words.English) }

// TitleIn is the same for a customer, in one of [texts.Languages].
func (r *Record) TitleIn(cat *rules.Catalogue, language string) string {
	if note, _, _ := strings.Cut(r.Note, "\n"); r.Service == ServiceOther && note != "" {
		return note
	}
	return cat.ServiceTitleIn(language, r.Service)
}

// Reading is an engine's hour meter on a day.
type Reading struct {
	ComponentID string
	Day         civil.Day
	Hours       Hours
	ReadBy      string
	// NewMeter marks the first reading of a replaced meter: hours run on from
	// the reading before it.
	NewMeter bool
}

// ServiceOther is work that no rule knows, in the words of whoever asked for it: its
// record resets no rule. The first line of a record's note is the job's title.
const ServiceOther = "other"

// FollowUp is a one-off job: after a finding, "recheck in 30 days", or because the
// customer asked for it.
type FollowUp struct {
	ID          string
	BoatID      string
	ComponentID string
	Service     string // the service whose record closes it
	Title       string
	Due         civil.Day
	Raised      civil.Day // the day of the finding, or on which it was asked for
	Finding     string
	Asked       bool  // the customer asked for it; there is no finding
	Alone       bool  // on a visit of its own, whatever else is planned
	Labour      int   // minutes; 0 stands for half an hour
	Price       Cents // list price before tax, 0 for none
}

// Override changes a rule for one boat or one component; the shop's changes
// for whole engine families stand in its rule file.
type Override struct {
	BoatID      string
	ComponentID string // "" for every component of the boat
	Rule        string // rule code
	Months      int    // replaces the rule's months; 0 keeps them
	Hours       Hours  // replaces the rule's hours; 0 keeps them
	Skip        bool   // not on this boat
	ByCustomer  bool   // the customer does this himself: planned and shown, never reminded or billed
	Source      string // where the changed figure comes from, in words
}

// Booking is a visit whose day the customer or the desk has fixed.
type Booking struct {
	VisitID string
	BoatID  string
	Kind    string // as Visit.Kind
	Day     civil.Day
	Minute  int  // minute of the day at which the boat is expected; -1 for the whole day
	Over    bool // made on purpose although the hours of its week were taken
	// Reason is why the shop moved the visit to this day, in words for the
	// customer; "" if it was not moved or the customer asked for it.
	Reason string
}

// CalledOff says on whose wish a visit is no longer booked, by the desk's word.
type CalledOff struct {
	VisitID string
	ByShop  bool   // else by the customer
	Reason  string // of the shop, in words for the customer
}

// When names the day and the time of a booking, for comparing what somebody saw
// with what is: "2026-10-14 09:00", without the time for the whole day, "" for
// no booking.
func (b *Booking) When() string {
	switch {
	case b == nil:
		return ""
	case b.Minute < 0:
		return b.Day.String()
	}
	return fmt.Sprintf("%s %02d:%02d", b.Day, b.Minute/60, b.Minute%60)
}

// ParseWhen reads what [Booking.When] wrote of a booking.
func ParseWhen(s string) (Booking, error) {
	b := Booking{Minute: -1}
	day, clock, timed := strings.Cut(s, " ")
	var err error
	if b.Day, err = civil.Parse(day); err != nil || !timed {
		return b, err
	}
	t, err := time.Parse("15:04", clock)
	b.Minute = t.Hour()*60 + t.Minute()
	return b, err
}

// Place is where boats float, with its season.
type Place struct {
	Name   string
	Launch civil.MonthDay // the day of the year on which owners want to be afloat
	LayUp  civil.MonthDay // the last day by which a boat must be laid up; none where it does not freeze
	Source string         // where the lay-up day comes from, in the words of whoever reads of it
	// HardFreeze is the first night of the present or last autumn at or below
	// -2.2 °C (28 °F) by the record of the place's station; none if unknown.
	HardFreeze civil.Day
	// Freeze is a hard freeze that a forecast foretells for a later week: it brings
	// deadlines forward. StoodOut is the first one of the season that came after an
	// alarm. No night for none.
	Freeze, StoodOut Freeze
	// ColdWater is the day of the year from which the water is usually under 4 °C;
	// none if unknown.
	ColdWater civil.MonthDay
}

// Freezes reports whether boats at the place are laid up for the winter.
func (p *Place) Freezes() bool { return !p.LayUp.IsZero() }
