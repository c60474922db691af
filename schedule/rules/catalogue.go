package rules

import (
	"cmp"
	"math"
	"slices"

	"bellbuoy/schedule/measure"
)

// Interval is a span of calendar months, of engine hours, or both: then
// whichever is reached first. A zero part does not count.
type Interval struct {
	Months int
	Hours  measure.Hours
}

// IsZero reports whether the interval says nothing.
func (iv Interval) IsZero() bool { return iv == Interval{} }

// Where an Expiry takes its last day from.
const (
	FromComponent = "component" // the day printed on the component or its paper
	FromWarranty  = "warranty"  // the last day of the sale's engine warranty
)

// Expiry is a last day that does not depend on when the work was last done.
type Expiry struct {
	From string // FromComponent or FromWarranty
	// For a component without a printed last day, what it follows from its day
	// of manufacture; at most one of the two is set.
	YearsAfterMade, MonthsAfterMade int
	// EndOfYear moves the day to 31 December of its year.
	EndOfYear bool
}

// Part is something the job uses up.
type Part struct {
	Code, Name string
	Quantity   float64
	Unit       string // "piece", "l", "kg", "m", "set"
}

// Add adds to the quantity, kept to a thousandth: sums of tenths stay tenths,
// whatever the order they are added in.
func (p *Part) Add(q float64) { p.Quantity = math.Round((p.Quantity+q)*1000) / 1000 }

// PartCost is what one unit of a part costs the shop, before tax. The catalogue
// that comes with the program has none: what a part costs is between a shop and
// its suppliers.
type PartCost struct {
	Code, Unit string
	Cost       measure.Cents
	Buys       float64 // how many of the unit the cost buys; 0 is 1
	File       string  `json:"-"`
	Line       int     `json:"-"`
}

// The kinds of source, from the firmest to the weakest.
const (
	Regulation     = "regulation"      // law or its published reading
	Published      = "published"       // a maker's or an association's document
	CommonPractice = "common-practice" // what shops do; no document seen
	Memory         = "memory"          // remembered, not seen
)

// Source says where a figure comes from.
type Source struct {
	Kind string // Regulation, Published, CommonPractice or Memory
	Text string // maker or authority, title, page; never a web address
}

// Condition is one line of a rule's "where" table: the attribute must have one
// of the values. The value "" stands for an attribute that was never recorded.
type Condition struct {
	Key string
	Any []string // rising, never empty
}

// The seasons of a season rule.
const (
	LayUp  = "lay-up"
	FitOut = "fit-out"
	Extra  = "extra" // not a season: a visit between them, in Rule.RideAlong only
)

// Rule says when a service falls due and on which components. Exactly one of
// these sets the day: First and Every (First alone when Once) with or without
// After, After alone, Season, Expiry, or StoredDays.
type Rule struct {
	Code string
	// Service is the code of the service whose record resets the rule.
	// Several rules may share one: every kind of engine has a lay-up rule.
	Service   string
	Title     string      // in plain words for customers
	Component string      // a component kind
	Where     []Condition // all must hold; in rising order of Key
	First     Interval    // counted from the first day in service
	Once      bool        // done once, after First, never again
	EndedBy   []string    // services whose record ends a Once rule beside its own; all it covers if it does not say
	Every     Interval
	Season    string // "", LayUp or FitOut
	IfMissed  string // LayUp: with the fit-out, and only where no lay-up is on record for the winter before
	Expiry    *Expiry
	// After lists services whose record asks for this work if it was not done
	// since: a haul-out, a launch, a strike. It may stand beside Every.
	After []string
	// StoredDays is every how many days a component needs this while its boat is
	// stored with us: a round of the yard, no visit.
	StoredDays int
	Covers     []string // services that doing this one includes
	RideAlong  []string // the kinds of visit it may ride with
	// EarlyDays is how long before its due day the work may sensibly be done,
	// GraceDays how long after it is still acceptable.
	EarlyDays, GraceDays int
	Labour               int // minutes
	Parts                []Part
	Price                measure.Cents // list price, labour and parts, before tax
	Inspect              bool          // a look, not a replacement
	ByCustomer           bool          // the customer sees to it: planned and shown, never billed
	Legal                bool          // the limit is set by law or a printed last day
	Safety               bool          // missing it can hurt people or sink the boat
	WithLayUp            bool          // done with the lay-up if the engine has run since, whenever it falls due
	Cold                 bool          // done with the engine cold and the boat on land: it may be winter work
	IfItStays            string        // what is done at a lay-up that it does not go with
	Consequence          string        // what goes wrong if it is missed
	Cautions             []string      // texts; codes of Catalogue.Cautions only as parsed
	// OwnerTitle and OwnerConsequence are the words for the boat's owner where
	// those for the technician are not his; OwnerCautions are what of the cautions
	// concerns somebody who owns and rides the boat, those about life first.
	OwnerTitle, OwnerConsequence string
	OwnerCautions                []OwnerCaution
	In                           map[string]CustomerWords // what customers read, by language; see [Rule.Words]
	Sources                      []Source
	File                         string `json:"-"` // where the rule stands
	Line                         int    `json:"-"`
}

// Matches reports whether the rule applies to a component of the kind whose
// attributes get returns, "" for one that is not recorded.
func (r *Rule) Matches(kind string, get func(key string) string) bool {
	if r.Component != kind {
		return false
	}
	for _, c := range r.Where {
		if !slices.Contains(c.Any, get(c.Key)) {
			return false
		}
	}
	return true
}

// Service is a kind of work by its own title. Services that no rule asks for
// (a repair, a compression test) are listed so that a history can name them.
type Service struct {
	Code, Title string
	In          map[string]string // the title by language
	File        string            `json:"-"`
	Line        int               `json:"-"`
}

// Family is a group of engines that share a manual.
type Family struct {
	Name, Title string
	In          map[string]string // the title by language
	Overrides   []FamilyRule
	File        string `json:"-"`
	Line        int    `json:"-"`
}

// FamilyRule is what an engine family's manual says where it differs from the
// catalogue.
type FamilyRule struct {
	Rule         string   // rule code
	First, Every Interval // the rule's own where zero
	Skip         bool     // the family has no such part
	Source       Source
	Line         int `json:"-"`
}

// Usage is what to expect of a boat whose meter was never read: a Gamma prior
// on the running hours of a season, and how long one outing is.
type Usage struct {
	BoatKind    string
	MeanHours   float64 // hours a season
	Weight      float64 // how much the mean counts, in seasons of evidence
	OutingHours float64 // engine hours of one outing
	// Yearly is how much an owner's own seasons differ, as the standard
	// deviation over the mean, 0 to 1.
	Yearly float64
	Source Source
	Line   int `json:"-"`
}

// OwnerCaution is a warning in the words for a boat's owner.
type OwnerCaution struct {
	Text string
	Life bool // somebody can die of it: it is never left out
}

// Caution is a warning that rules name by its code and people read as its text.
type Caution struct {
	Code, Text string
	Owner      string            // for the owner, "" if it concerns the technician only
	In         map[string]string // Owner by language
	Life       bool              // see OwnerCaution
	Source     Source
	File       string `json:"-"`
	Line       int    `json:"-"`
}

// Catalogue is a set of rules with the services, engine families and usage
// figures that belong to it. As JSON it is without the files and lines where things
// stand: two that plan the same are then equal.
type Catalogue struct {
	Rules    []Rule
	Services []Service
	Families []Family
	Usage    []Usage
	// Cautions are the texts behind the codes in Rule.Cautions.
	Cautions []Caution
	// MonthProfile is the relative running of the twelve months, January
	// first; all zero in a shop's file that leaves it alone.
	MonthProfile [12]float64
	MonthSource  Source
	// Pricing says where labour minutes, parts and list prices come from.
	Pricing Source
	// PartCosts are a shop's buying prices, of the parts whose prices it gave.
	PartCosts []PartCost
	// Changes and Drops are a shop's, waiting for Extend. What Extend could
	// not place stays in them, for Check to report.
	Changes []Change
	Drops   []Drop
	// Renamed are keys that stand in a file under their old names.
	Renamed []Finding `json:"-"`
}

// Change replaces some fields of a rule that another file wrote.
type Change struct {
	Rule   Rule     // the code says which; only the fields in Fields count
	Fields []string // the keys that were given, rising
}

// Drop takes a rule out: the shop does not offer it.
type Drop struct {
	Rule string
	File string `json:"-"`
	Line int    `json:"-"`
}

// Rule returns the rule with the code.
func (c *Catalogue) Rule(code string) (*Rule, bool) {
	for i := range c.Rules {
		if c.Rules[i].Code == code {
			return &c.Rules[i], true
		}
	}
	return nil, false
}

// Priced returns the catalogue with other list prices for the rules of some codes.
func (c *Catalogue) Priced(prices map[string]measure.Cents) *Catalogue {
	out := *c
	out.Rules = slices.Clone(c.Rules)
	for i := range out.Rules {
		if price, has := prices[out.Rules[i].Code]; has {
			out.Rules[i].Price = price
		}
	}
	return &out
}

// CostOf is what a quantity of a part costs the shop, rounded to the cent;
// false if the shop gave no price for that part in that unit.
func (c *Catalogue) CostOf(p *Part) (measure.Cents, bool) {
	for i := range c.PartCosts {
		if k := &c.PartCosts[i]; k.Code == p.Code && k.Unit == p.Unit {
			return measure.Cents(math.Round(p.Quantity / cmp.Or(k.Buys, 1) * float64(k.Cost))), true
		}
	}
	return 0, false
}

// HasService reports whether a history may name the service.
func (c *Catalogue) HasService(code string) bool {
	return slices.ContainsFunc(c.Services, func(s Service) bool { return s.Code == code }) ||
		slices.ContainsFunc(c.Rules, func(r Rule) bool { return r.Service == code })
}

// ServiceTitle returns the service's title in plain words: its own, else that
// of the rule named like it, else of the first rule that asks for it; the code
// itself for a service nobody knows.
func (c *Catalogue) ServiceTitle(code string) string {
	for _, s := range c.Services {
		if s.Code == code {
			return s.Title
		}
	}
	title := code
	for i := range c.Rules {
		r := &c.Rules[i]
		if r.Code == code && r.Service == code {
			return r.Title
		}
		if r.Service == code && title == code {
			title = r.Title
		}
	}
	return title
}

// ServiceCodes returns every service a history may name, rising.
func (c *Catalogue) ServiceCodes() []string {
	var codes []string
	for _, s := range c.Services {
		codes = append(codes, s.Code)
	}
	for i := range c.Rules {
		codes = append(codes, c.Rules[i].Service)
	}
	slices.Sort(codes)
	return slices.Compact(codes)
}

// Guards reports whether law, a printed last day or safety asks for the rule's
// work: its reminders are never held back, and it stays on the due list once its
// day has passed.
func (r *Rule) Guards() bool { return r.Legal || r.Safety || r.Expiry != nil }
