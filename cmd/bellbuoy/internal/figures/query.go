package figures

import (
	"fmt"
	"net/url"
	"strconv"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

// The lists behind the owner's figures.
const (
	ListWork     = "work"             // lines of paid work
	ListSales    = "sales"            // boats sold in a year, and whether they came in a season
	ListSpells   = "times"            // times from the sale to the first return, or to lapsing
	ListSeason   = "season"           // boats on their way through a season
	ListExpected = "expected"         // visits ahead, with their chance
	ListAway     = "lapsed"           // boats that have lapsed
	ListHours    = "hours"            // work of a shop week by its catalogue time
	ListVisits   = "visits"           // visits that stand in a coming shop week
	ListWarranty = "warranty"         // checks before the sale's engine warranty ends
	ListParts    = "parts"            // parts that the coming visits use up
	ListNudges   = "second-reminders" // second reminders, and customers of the comparison group
	ListDone     = "visits-done"      // days of a boat with paid work
	ListNoShows  = "no-shows"         // booked days that passed without the boat
	ListSold     = "sold"             // boats that the shop sold
	ListForecast = "forecast"         // what a past forecast said of each boat, and what it paid
	ListChances  = "chances"          // chances given for past season visits, and whether they came
	ListReminded = "reminded"         // customers reminded by email in the last twelve months
)

// Lists are all of them, for those who ask by name.
func Lists() []string {
	return []string{ListWork, ListSales, ListSpells, ListSeason, ListExpected, ListAway, ListHours, ListVisits, ListWarranty, ListParts, ListNudges, ListDone, ListNoShows, ListSold, ListForecast, ListChances, ListReminded}
}

// Query asks for one list. What is left out does not narrow it.
type Query struct {
	List       string
	From, To   civil.Day
	Month      returns.Month
	Season     returns.Season
	Week       civil.Week
	Service    string
	Sold       string // "yes": boats the shop sold, "no": other work
	Year       int    // of the sale
	Kind       string // of boat
	Make       string // "-", as for the place and the technician: not noted
	Place      string
	Technician string
	Came       string // "yes" or "no"
	Of         string // of times: "first" or "lapse"
	Reach      string // of a season: the least step
	Fate       string
	Held       string // "yes" or "no": whether the nudge was held back
	Step       string // the last reminder heard; "none" for no reminder
	Boat       string // its id
	Skipped    string // "yes": boats that passed Reach without taking the step
	Happened   string // "yes" or "no": whether the event that times are counted to happened
	Priced     string // "yes" or "no": whether a part's buying price is known
	Wished     string // "yes" or "no": whether a boat that lapsed is on the call list
	Chance     string // of a visit: the lower end of its band in percent, as in "20"
	Booked     string // "yes" or "no": whether a visit is booked
}

// spanOfDays is what the days, the month or the season of the query come to;
// To none is without end.
func (q *Query) spanOfDays() (from, to civil.Day) {
	from, to = q.From, q.To
	narrow := func(first, last civil.Day) {
		from = max(from, first)
		if to == 0 || last < to {
			to = last
		}
	}
	if q.Month != 0 {
		narrow(q.Month.First(), q.Month.Last())
	}
	if q.Season.Year != 0 {
		narrow(q.Season.First(), q.Season.Last())
	}
	if q.Week != 0 {
		narrow(q.Week.Monday(), q.Week.Sunday())
	}
	return from, to
}

// fields are the query's parts by their names in an address.
func (q *Query) fields() []struct{ name, value string } {
	year := ""
	if q.Year != 0 {
		year = strconv.Itoa(q.Year)
	}
	return []struct{ name, value string }{
		{"from", q.From.String()}, {"to", q.To.String()}, {"month", q.Month.String()}, {"season", q.Season.String()},
		{"week", q.Week.String()}, {"service", q.Service}, {"sold", q.Sold}, {"year", year}, {"kind", q.Kind}, {"make", q.Make}, {"place", q.Place}, {"technician", q.Technician},
		{"returned", q.Came}, {"of", q.Of}, {"reach", q.Reach}, {"fate", q.Fate}, {"comparison", q.Held}, {"step", q.Step},
		{"boat", q.Boat}, {"skipped", q.Skipped}, {"happened", q.Happened}, {"priced", q.Priced}, {"called", q.Wished}, {"chance", q.Chance}, {"booked", q.Booked},
	}
}

// Values is the query as the part of an address after the question mark.
func (q *Query) Values() url.Values {
	v := url.Values{}
	for _, f := range q.fields() {
		if f.value != "" {
			v.Set(f.name, f.value)
		}
	}
	return v
}

// String writes the query as [ParseQuery] reads it: "work?month=2027-05".
func (q Query) String() string {
	if v := q.Values(); len(v) > 0 {
		return q.List + "?" + v.Encode()
	}
	return q.List
}

// MarshalText writes the query as String does.
func (q Query) MarshalText() ([]byte, error) { return []byte(q.String()), nil }

// ParseQuery reads a list's name and the filter on it. Unknown names, values
// that cannot be read and names given twice are refused.
func ParseQuery(list string, v url.Values) (Query, error) {
	q := Query{List: list}
	texts := map[string]*string{
		"service": &q.Service, "sold": &q.Sold, "kind": &q.Kind, "make": &q.Make, "place": &q.Place, "technician": &q.Technician, "returned": &q.Came, "of": &q.Of, "reach": &q.Reach, "fate": &q.Fate, "comparison": &q.Held, "step": &q.Step,
		"boat": &q.Boat, "skipped": &q.Skipped, "happened": &q.Happened, "priced": &q.Priced, "called": &q.Wished, "chance": &q.Chance, "booked": &q.Booked,
	}
	parsed := map[string]interface{ UnmarshalText([]byte) error }{
		"from": &q.From, "to": &q.To, "month": &q.Month, "season": &q.Season, "week": &q.Week,
	}
	for name, values := range v {
		if len(values) != 1 {
			return q, fmt.Errorf("filter %q: given %d times; give it once", name, len(values))
		}
		var err error
		switch {
		case texts[name] != nil:
			*texts[name] = values[0]
		case parsed[name] != nil:
			err = parsed[name].UnmarshalText([]byte(values[0]))
		case name == "year":
			if q.Year, err = strconv.Atoi(values[0]); err != nil || q.Year < 1 || q.Year > 9999 {
				err = fmt.Errorf("year %q: want a year such as 2027", values[0])
			}
		default:
			err = fmt.Errorf("no such filter; the filters are from, to, month, season, week, service, sold, year, kind, make, place, technician, returned, of, reach, fate, comparison, step, boat, skipped, happened, priced, called, chance and booked")
		}
		if err != nil {
			return q, fmt.Errorf("filter %q: %w", name, err)
		}
	}
	return q, q.check()
}

// check refuses words outside the closed lists.
func (q *Query) check() error {
	if q.From != 0 && q.To != 0 && q.From > q.To {
		return fmt.Errorf("filter: from %s comes after to %s", q.From, q.To)
	}
	for _, w := range []struct {
		name, value string
		known       []string
	}{
		{"list", q.List, Lists()},
		{"sold", q.Sold, []string{"", "yes", "no"}},
		{"returned", q.Came, []string{"", "yes", "no"}},
		{"comparison", q.Held, []string{"", "yes", "no"}},
		{"skipped", q.Skipped, []string{"", "yes"}},
		{"happened", q.Happened, []string{"", "yes", "no"}},
		{"priced", q.Priced, []string{"", "yes", "no"}},
		{"called", q.Wished, []string{"", "yes", "no"}},
		{"booked", q.Booked, []string{"", "yes", "no"}},
		{"chance", q.Chance, chanceNames()},
		{"of", q.Of, []string{"", spellFirst, spellLapse}},
		{"reach", q.Reach, reachNames()},
		{"fate", q.Fate, fateNames()},
	} {
		ok := false
		for _, k := range w.known {
			ok = ok || k == w.value
		}
		if !ok {
			return fmt.Errorf("filter %q: %q is none of %q", w.name, w.value, w.known)
		}
	}
	return nil
}
