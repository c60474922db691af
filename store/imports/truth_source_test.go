package imports_test

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// source is a shop's tables with known truth: who its customers are, which boats
// there are and what was paid, under all the ways in which rows of ten years
// spell it. The same source comes out of the same seed.
type source struct {
	name     string
	seed     uint64
	boats    []string // columns of the table of boats; none if there is no such table
	work     []string // columns of each table of work
	books    int      // how many tables the work stands in
	drop     int      // of a hundred cells of evidence on a row, how many are empty
	jobs     int      // rows of work
	sameName int      // pairs of customers who share a name and nothing else
}

// sources are five ways in which shops keep their books.
func sources() []source {
	all := []string{"Owner", "Email", "Phone", "Street", "Boat", "Make", "Model", "Year", "HIN", "Reg", "Day", "Job", "Paid", "Truth"}
	return []source{
		{name: "one list of invoices", seed: 11, work: all, books: 1, drop: 50, jobs: 2400, sameName: 3},
		{name: "a list a year", seed: 12, work: all, books: 5, drop: 35, jobs: 2000, sameName: 2},
		{name: "boats and work", seed: 13, boats: all[:10], work: []string{"Owner", "Phone", "Boat", "Make", "Model", "Reg", "Day", "Job", "Paid", "Truth"}, books: 1, drop: 40, jobs: 1800, sameName: 2},
		{name: "numbered customers", seed: 14, boats: append([]string{"Number"}, all[:10]...), work: []string{"Number", "Owner", "HIN", "Make", "Model", "Boat", "Reg", "Day", "Job", "Paid", "Truth"}, books: 2, drop: 30, jobs: 2000, sameName: 4},
		{name: "streets and hull numbers", seed: 15, work: []string{"Owner", "Street", "Email", "Make", "Model", "Year", "HIN", "Day", "Job", "Paid", "Truth"}, books: 3, drop: 45, jobs: 2000, sameName: 1},
	}
}

// truth is what a source must come to.
type truth struct {
	source
	rng    *rand.Rand
	people []*truePerson
	fleet  []*trueBoat
	tables []*trueTable
	paid   map[string]schedule.Cents // by table and line: what the row says was paid, if that can be read
}

type truePerson struct {
	name, email, phone, street string
	twin                       bool // somebody else bears the name
}

type trueBoat struct {
	owner, number          int
	name, make, model, hin string
	reg                    string
	year                   int
}

type trueTable struct {
	name    string
	columns []string
	rows    [][]string
}

func newTruth(s source) *truth {
	g := &truth{source: s, rng: rand.New(rand.NewPCG(s.seed, s.seed)), paid: map[string]schedule.Cents{}}
	g.makePeople(90)
	g.makeFleet()
	if len(s.boats) > 0 {
		g.boatTable()
	}
	g.workTables()
	return g
}

func (g *truth) has(column string) bool {
	return slices.Contains(g.work, column) || slices.Contains(g.boats, column)
}

func (g *truth) some(percent int) bool { return g.rng.IntN(100) < percent }

func (g *truth) makePeople(n int) {
	first := []string{"Jørn", "Paz", "Uli", "Odalys", "Maren", "Piotr", "Nadia", "Zoë", "Bram"}
	last := []string{"Quillfeather", "Okonwe", "Dunmarrow", "Trần", "Brackwater", "Weir", "Łukasik", "O’Marrow", "van der Meer", "Ibáñez"}
	for i := range n {
		p := &truePerson{name: first[i%len(first)] + " " + last[i/len(first)%len(last)]}
		if i >= n-g.sameName { // these bear a name that somebody has already
			p.name, p.twin, g.people[i-n+g.sameName].twin = g.people[i-n+g.sameName].name, true, true
		}
		if g.has("Email") && g.some(70) {
			p.email = fmt.Sprintf("owner%d@example.org", i)
		}
		if g.has("Phone") && (g.some(80) || p.email == "" || !slices.Contains(g.work, "Email")) {
			p.phone = fmt.Sprintf("212555%04d", 1000+7*i)
		}
		if g.has("Street") && (g.some(60) || p.email+p.phone == "") {
			p.street = fmt.Sprintf("%d Cove Road", 10+i)
		}
		g.people = append(g.people, p)
	}
}

// makeFleet gives every customer a boat and every fourth a second one.
func (g *truth) makeFleet() {
	for i := range g.people {
		for n := range 1 + (i%4)/3 {
			k := len(g.fleet)
			b := &trueBoat{owner: i, number: k, make: []string{"Brackenhull", "Tarnmoor", "Fen & Reed"}[(i+n)%3], model: fmt.Sprint("Pike ", 16+2*n+i%2), year: 1995 + k%28}
			if g.has("Boat") && g.some(60) {
				b.name = fmt.Sprintf("Tern %d", k)
			}
			if g.has("HIN") && g.some(60) {
				b.hin = fmt.Sprintf("QXB%05dC%d%02d", k, (b.year-1)%10, b.year%100)
			}
			if g.has("Reg") && g.some(50) {
				b.reg = fmt.Sprintf("NY%04dKX", 1000+k)
			}
			g.fleet = append(g.fleet, b)
		}
	}
}

// cell writes one fact of a boat or its owner, in one of the ways in which people do.
func (g *truth) cell(column string, b *trueBoat) string {
	p := g.people[b.owner]
	switch column {
	case "Number":
		return fmt.Sprint(b.owner + 1)
	case "Owner":
		return g.one(p.name, p.name, strings.Replace(p.name, " ", "  ", 1), strings.ToUpper(p.name), " "+p.name+" ")
	case "Email":
		return g.one(p.email, strings.ToUpper(p.email))
	case "Phone":
		if p.phone == "" {
			return ""
		}
		a, c, d := p.phone[:3], p.phone[3:6], p.phone[6:]
		return g.one(a+"-"+c+"-"+d, "("+a+") "+c+"-"+d, "+1 "+a+" "+c+" "+d, a+"."+c+"."+d, c+"-"+d)
	case "Street":
		return g.one(p.street, strings.Replace(p.street, "Road", "Rd", 1), strings.ToLower(p.street), strings.Replace(p.street, "Road", "Rd.", 1))
	case "Boat":
		return g.one(b.name, strings.ToLower(b.name), `"`+b.name+`"`)
	case "Make":
		return g.one(b.make, strings.ToUpper(b.make))
	case "Model":
		return g.one(b.model, strings.Replace(b.model, " ", "", 1), strings.Replace(b.model, " ", "-", 1))
	case "Year":
		return strconv.Itoa(b.year)
	case "HIN":
		if b.hin == "" {
			return ""
		}
		return g.one(b.hin, "US-"+b.hin, strings.ToLower(b.hin), b.hin[:3]+" "+b.hin[3:])
	case "Reg":
		if b.reg == "" {
			return ""
		}
		return g.one(b.reg, b.reg[:2]+" "+b.reg[2:6]+" "+b.reg[6:], b.reg[:2]+"-"+b.reg[2:6]+"-"+b.reg[6:])
	}
	return ""
}

func (g *truth) one(all ...string) string {
	if s := strings.Trim(all[0], `"`); s == "" {
		return ""
	}
	return all[g.rng.IntN(len(all))]
}

// row writes a row about a boat. Unless it is whole, evidence is missing, but as
// much is left as a person would need: the owner's name, something about the boat,
// and more where the name alone leaves it open.
func (g *truth) row(columns []string, b *trueBoat, whole bool) []string {
	p := g.people[b.owner]
	cells := make([]string, len(columns))
	reach, boat := false, false
	for i, c := range columns {
		cells[i] = g.cell(c, b)
		evidence := slices.Contains([]string{"Email", "Phone", "Street", "HIN", "Reg", "Year", "Boat", "Number"}, c)
		if evidence && !whole && g.some(g.drop) {
			cells[i] = ""
		}
		if cells[i] == "" {
			continue
		}
		reach = reach || slices.Contains([]string{"Email", "Phone", "Street", "HIN", "Reg", "Number"}, c)
		boat = boat || slices.Contains([]string{"HIN", "Reg", "Model", "Boat"}, c)
	}
	if p.twin && !reach || !boat {
		return g.row(columns, b, true)
	}
	return cells
}

func (g *truth) boatTable() {
	t := &trueTable{name: "boats.csv", columns: g.boats}
	for _, k := range g.rng.Perm(len(g.fleet)) {
		t.rows = append(t.rows, g.row(t.columns, g.fleet[k], true))
	}
	g.tables = append(g.tables, t)
}

// workTables writes the work. Each boat has one row with all that is known of
// it, wherever in the tables that stands.
func (g *truth) workTables() {
	first := len(g.tables)
	for i := range g.books {
		g.tables = append(g.tables, &trueTable{name: fmt.Sprintf("work%d.csv", i+1), columns: g.work})
	}
	boats := make([]int, 0, g.jobs)
	for k := range g.fleet {
		boats = append(boats, k)
	}
	for len(boats) < g.jobs {
		boats = append(boats, g.rng.IntN(len(g.fleet)))
	}
	whole := map[int]bool{}
	for i := range g.fleet {
		whole[i] = true
	}
	for _, i := range g.rng.Perm(len(boats)) {
		t := g.tables[first+g.rng.IntN(g.books)]
		g.workRow(t, g.fleet[boats[i]], whole[i])
	}
}

// workRow adds one job; one row in fifty has a fault and must come back.
func (g *truth) workRow(t *trueTable, b *trueBoat, whole bool) {
	cells := g.row(t.columns, b, whole)
	cents := schedule.Cents(2000 + g.rng.IntN(90000))
	for i, c := range t.columns {
		switch c {
		case "Day":
			cells[i] = (civil.Of(2016, 1, 4) + civil.Day(g.rng.IntN(3800))).String()
		case "Job":
			cells[i] = g.one("Winterize", "impeller", "Oil", "spring commissioning", "wash")
			if !whole && g.some(1) {
				cells[i] = "submarine"
			}
		case "Paid":
			cells[i] = cents.String()
			if !whole && g.some(1) {
				cells[i] = "ask Uli"
				cents = 0
			}
		case "Truth":
			cells[i] = fmt.Sprintf("c%d b%d", b.owner, b.number)
		}
	}
	t.rows = append(t.rows, cells)
	g.paid[fmt.Sprint(t.name, ":", len(t.rows)+1)] = cents
}

// opened are the tables as files.
func (g *truth) opened(t *testing.T) (all []*sheet.Book) {
	t.Helper()
	for _, table := range g.tables {
		var b strings.Builder
		w := csv.NewWriter(&b)
		if err := w.WriteAll(append([][]string{table.columns}, table.rows...)); err != nil {
			t.Fatal(err)
		}
		all = append(all, book(t, table.name, []byte(b.String())))
	}
	return all
}

// mapping is what a person would say of the tables.
func (g *truth) mapping(t *testing.T) *mapping.Mapping {
	t.Helper()
	fields := map[string]string{
		"Number": "customer.id", "Owner": "customer.name", "Email": "customer.email", "Phone": "customer.phone", "Street": "customer.address",
		"Boat": "boat.name", "Make": "boat.make", "Model": "boat.model", "Year": "boat.year", "HIN": "boat.hin", "Reg": "boat.registration",
		"Day": "work.day", "Job": "work.service", "Paid": "work.amount", "Truth": "work.note",
	}
	var b strings.Builder
	b.WriteString("phone_region = \"US\"\n")
	for _, table := range g.tables {
		fmt.Fprintf(&b, "[[sheet]]\nname = %q\n[sheet.columns]\n", table.name)
		for _, c := range table.columns {
			fmt.Fprintf(&b, "%q = %q\n", c, fields[c])
		}
		b.WriteString(`[sheet.defaults]
"boat.kind" = "runabout"
"boat.water" = "fresh"
"boat.place" = "Pine Cove"
"boat.berth" = "own-dock"
`)
		if slices.Contains(table.columns, "Job") {
			b.WriteString(`[sheet.dates]
"Day" = "ymd"
[sheet.numbers]
"Paid" = "1,234.50"
[sheet.words."work.service"]
"Winterize" = "lay-up"
"Oil" = "engine-oil"
"spring commissioning" = "fit-out"
"wash" = "cleaning"
"submarine" = "-"
`)
		}
	}
	m, err := mapping.Parse([]byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return m
}
