package imports_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"bellbuoy/schedule/civil"
)

// messyShop is a workbook as it grows in ten years: three sheets that count and
// one that does not, every kind of dirt at a fixed rate, the same for the same
// seed. Each row that counts says in its last column, which the mapping leaves
// out, what should become of it.
type messyShop struct {
	t     testing.TB
	rng   *rand.Rand
	file  *excelize.File
	sheet *excelize.StreamWriter
	row   int
	day   int // the style of date cells

	rows     map[string]int  // rows that count, by sheet
	bad      map[string]bool // rows that must come back, "sheet:line"
	boats    []*messyBoat
	records  int // pieces of work on rows that must be taken
	owners   int // customers that must be there afterwards
	services []string
}

type messyBoat struct {
	owner, ownerMail, name, hin string
	bad                         bool // its own row must come back
	read                        bool // a row gives hours that are no estimate
	hours                       int
	last                        civil.Day
}

// What a row must come to.
const (
	messyTake = "take"
	messyBack = "back"
)

const messySeed = 7

func newMessyShop(t testing.TB, boats, work int) *messyShop {
	m := &messyShop{
		t: t, rng: rand.New(rand.NewPCG(messySeed, messySeed)), file: excelize.NewFile(),
		rows: map[string]int{}, bad: map[string]bool{},
		services: []string{"Winterize", "winterized & shrink wrap", "Oil change", "Impeller", "Spring commissioning", "wash", "Compression test", "IMPELLER; oil"},
	}
	var err error
	format := "m/d/yy"
	if m.day, err = m.file.NewStyle(&excelize.Style{CustomNumFmt: &format}); err != nil {
		t.Fatal(err)
	}
	m.boatSheet(boats)
	m.workSheet(work)
	m.noteSheet()
	return m
}

// bytes writes the workbook.
func (m *messyShop) bytes() []byte {
	m.flush()
	if err := m.file.DeleteSheet("Sheet1"); err != nil {
		m.t.Fatal(err)
	}
	var b bytes.Buffer
	if err := m.file.Write(&b); err != nil {
		m.t.Fatal(err)
	}
	return b.Bytes()
}

func (m *messyShop) begin(name string) {
	m.flush()
	if _, err := m.file.NewSheet(name); err != nil {
		m.t.Fatal(err)
	}
	var err error
	if m.sheet, err = m.file.NewStreamWriter(name); err != nil {
		m.t.Fatal(err)
	}
	m.row = 0
}

func (m *messyShop) flush() {
	if m.sheet != nil {
		if err := m.sheet.Flush(); err != nil {
			m.t.Fatal(err)
		}
	}
}

// put writes a row; gap leaves blank ones before it.
func (m *messyShop) put(gap int, cells ...any) {
	m.row += 1 + gap
	axis, err := excelize.CoordinatesToCellName(1, m.row)
	if err == nil {
		err = m.sheet.SetRow(axis, cells)
	}
	if err != nil {
		m.t.Fatal(err)
	}
}

// counted writes a row that counts, with its fate.
func (m *messyShop) counted(sheet string, take bool, cells ...any) {
	fate := messyTake
	if !take {
		fate = messyBack
	}
	gap := 0
	if m.chance(1, 50) {
		gap = 2
	}
	m.put(gap, append(cells, fate)...)
	m.rows[sheet]++
	if !take {
		m.bad[fmt.Sprint(sheet, ":", m.row)] = true
	}
}

// chance is true n times in of.
func (m *messyShop) chance(n, of int) bool { return m.rng.IntN(of) < n }

func pick[T any](m *messyShop, list ...T) T { return list[m.rng.IntN(len(list))] }

// date writes a day in one of the ways in which the sheet has it.
func (m *messyShop) date(d civil.Day) any {
	y, mo, da := d.Date()
	switch m.rng.IntN(8) {
	case 0:
		return fmt.Sprintf("%d/%d/%02d", mo, da, y%100)
	case 1:
		return fmt.Sprintf("%02d/%02d/%04d", mo, da, y)
	case 2:
		return d.String()
	case 3:
		return fmt.Sprintf("%s %d, %d", mo.String()[:3], da, y)
	case 4:
		return fmt.Sprintf("%d-%s-%02d", da, mo.String()[:3], y%100)
	case 5:
		return int(d - civil.Of(1899, 12, 30)) // a date cell that lost its format
	}
	return excelize.Cell{StyleID: m.day, Value: int(d - civil.Of(1899, 12, 30))}
}

func (m *messyShop) money() any {
	cents := m.rng.IntN(400000)
	whole := fmt.Sprintf("%d,%03d", 1+cents/100000, cents%1000)
	return pick[any](m, float64(cents)/100, "$"+whole+".50", whole+".00 USD", "(45.00)", "-12.5", "-", "", "$ 99")
}

func (m *messyShop) phone(i int) any {
	return pick[any](m, fmt.Sprintf("(212) 555-%04d", i%10000), fmt.Sprintf("212.555.%04d", i%10000), fmt.Sprintf("+1 212 555 %04d", i%10000),
		fmt.Sprintf("212-555-%04d / 212-555-%04d", i%10000, (i+1)%10000), "555-0100", "call after 6", "", "n/a")
}

// number makes a hull number of the current format.
func (m *messyShop) number(i, year int) string {
	return fmt.Sprintf("QXB%05dC%d%02d", i, (year-1)%10, year%100)
}

// boatSheet has one row a boat, with its owner and services as columns.
func (m *messyShop) boatSheet(n int) {
	const name = "Boats"
	m.begin(name)
	m.put(0, "Boat list of the shop, all years")
	m.put(1, "Owner", "E-Mail", "Cell Phone", "Town", "Boat", "Make", "Model", "Year", "Type", "LOA", "HIN #", "Sold", "Impeller", "Winterized", "Engine hours", "Hours date", "Drive", "Fate")
	last := []string{"Quillfeather", "Okonwe", "Dunmarrow", "Trần", "Brackwater", "Weir", "Łukasik", "O’Marrow", "van der Meer", "Ibáñez"}
	first := []string{"Jørn", "Paz", "Uli", "Odalys", "Maren", "Piotr", "Nadia", "Björn & Ada", "Zoë"}
	for i := range n {
		if m.chance(1, 300) {
			m.counted(name, false, "Page", i, "", "", "", "", "", "", "", "", "", "", "", "", "", "", "")
		}
		year := 1990 + m.rng.IntN(34)
		b := &messyBoat{owner: fmt.Sprintf("%s, %s %d", pick(m, last...), pick(m, first...), i), name: fmt.Sprintf("Tern %d", i), hours: 50 + m.rng.IntN(900)}
		b.ownerMail = fmt.Sprintf("owner%d@example.org", i)
		if i%3 != 0 {
			b.hin = m.number(i, year)
		}
		b.last = civil.Of(2023, 1, 1) + civil.Day(m.rng.IntN(300))
		m.boats = append(m.boats, b)
		m.boat(name, b, i, year)
	}
}

func (m *messyShop) boat(sheet string, b *messyBoat, i, year int) {
	cells := []any{
		b.owner, b.ownerMail, m.phone(i), pick(m, "Lindrake", "Pine Landing", ""), b.name, "Brackenhull", fmt.Sprint("Reedpike ", 16+i%8), year,
		pick(m, "Pontoon boat", "bass boat", "Bowrider", "Sail", "PWC", "cabin cruiser"), pick[any](m, 18.5, `21'6"`, "20 ft", "6.5 m", ""), m.writtenHIN(b.hin),
		m.date(civil.Of(2010, 4, 1) + civil.Day(m.rng.IntN(4000))), m.several(2), m.several(1),
		pick(m, fmt.Sprint(b.hours), fmt.Sprint(b.hours, " hrs"), fmt.Sprintf("hrs: %d.5", b.hours), fmt.Sprintf("~%d", b.hours)), m.date(b.last), pick(m, "O/B", "I/O", "Outboard"),
	}
	switch m.rng.IntN(60) { // one fault, of one kind
	case 0:
		cells[1] = "owner at example.org"
	case 1:
		cells[7] = "new"
	case 2:
		cells[8] = "submarine"
	case 3:
		cells[11] = "13/32/2019"
	case 4:
		cells[12] = "last spring"
	case 5:
		cells[14] = fmt.Sprintf("%d/%d", b.hours, b.hours+4)
	case 6:
		cells[15] = "" // hours without their day
	case 7:
		cells[9] = "long"
	default:
		m.records += m.workIn(cells[12]) + m.workIn(cells[13])
		m.owners++
		b.read = !strings.HasPrefix(fmt.Sprint(cells[14]), "~")
		m.counted(sheet, true, cells...)
		return
	}
	b.bad = true
	m.counted(sheet, false, cells...)
}

// several is a cell of up to n days of one service, in text where it has more
// than one.
func (m *messyShop) several(n int) any {
	d := civil.Of(2016, 10, 5) + civil.Day(m.rng.IntN(1800))
	switch k := m.rng.IntN(4); {
	case k == 0:
		return ""
	case k == 1 && n > 1:
		return fmt.Sprintf("%s; %s", d, d+400)
	}
	return m.date(d)
}

// workIn counts the days in such a cell.
func (m *messyShop) workIn(cell any) int {
	if s, ok := cell.(string); ok && strings.Contains(s, ";") {
		return 2
	}
	if cell == "" {
		return 0
	}
	return 1
}

func (m *messyShop) writtenHIN(s string) string {
	if s == "" || m.chance(1, 2) {
		return s
	}
	return pick(m, "US-"+s, strings.ToLower(s), s[:3]+" "+s[3:8]+" "+s[8:], s[:3]+"-"+s[3:])
}

// workSheet has one row a service.
func (m *messyShop) workSheet(n int) {
	const name = "Work orders"
	m.begin(name)
	header := []any{"Date", "Owner", "E-Mail", "Boat", "HIN", "Work done", "Hours", "Total", "Notes", "Fate"}
	m.put(0, header...)
	for i := range n {
		if m.chance(1, 1000) {
			m.counted(name, false, header[:len(header)-1]...) // a page break
		}
		if m.chance(1, 1000) {
			m.counted(name, false, "", "", "", "", "", "", "", 12345.5, "subtotal")
		}
		m.order(name, m.boats[m.rng.IntN(len(m.boats))], i)
	}
}

func (m *messyShop) order(sheet string, b *messyBoat, i int) {
	b.last++
	b.hours++
	service := pick(m, m.services...)
	cells := []any{m.date(b.last), b.owner, b.ownerMail, b.name, b.hin, service, pick[any](m, "", "", fmt.Sprint(b.hours), b.hours, fmt.Sprintf("%d h", b.hours)), m.money(), pick(m, "", "ok", "see sheet, \"twice\"\nand again")}
	take := !b.bad
	switch m.rng.IntN(80) {
	case 0:
		cells[0] = pick(m, "sometime", "2/30/24", "", "12/24/2031")
		take = false
	case 1:
		cells[5] = pick(m, "ask Uli", "")
		take = false
	case 2:
		cells[7] = "free"
		take = false
	case 3:
		cells[6] = "3 and 4"
		take = false
	case 4:
		if b.read { // a meter that runs backwards; of an estimate alone the estimate is left out
			cells[6] = 1
			take = false
		}
	case 5:
		cells[1], cells[2], cells[3], cells[4] = fmt.Sprint("Nobody ", i), "", "", ""
		take = false
	}
	if take {
		b.read = b.read || cells[6] != ""
		m.records += 1
		if strings.ContainsAny(service, "&;") {
			m.records++
		}
	}
	m.counted(sheet, take, cells...)
}

// noteSheet is what does not count.
func (m *messyShop) noteSheet() {
	m.begin("Scratch")
	m.put(0, "call the parts shop")
	m.put(3, 12, 13, 14)
}
