package mapping

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/imports/sheet"
)

// profile is what the cells of one column have in common.
type profile struct {
	name     string
	filled   int
	examples []string            // the first few cells
	distinct map[string]int      // by cell, until there are too many
	days     int                 // cells that a workbook calls a day
	numbers  int                 // cells that a workbook calls a number
	serials  int                 // of these and of texts, the ones that could be day numbers
	orders   contest             // of the orders of dates
	by       map[string]*contest // the same of each separator
	styles   contest             // of the styles of numbers
	emails   int
	hins     int
	commas   int // texts with one comma
}

// Of many different words nobody wants to read a list.
const mostWords, mostExamples = 150, 3

func newProfile(name string) *profile {
	return &profile{name: name, distinct: map[string]int{}, by: map[string]*contest{}, orders: newContest(len(DateOrders())), styles: newContest(len(NumberStyles()))}
}

// add takes one cell into account.
func (p *profile) add(c sheet.Cell, today civil.Day) {
	s := strings.TrimSpace(c.Text)
	if s == "" {
		return
	}
	p.filled++
	if len(p.distinct) <= mostWords {
		p.distinct[s]++
	}
	if len(p.examples) < mostExamples && !slices.Contains(p.examples, s) {
		p.examples = append(p.examples, s)
	}
	switch c.Kind {
	case sheet.Day:
		p.days++
		return
	case sheet.Number:
		p.numbers++
		if _, err := ParseDay(c, "ymd "+excelWord, today); err == nil {
			p.serials++
		}
		return
	}
	p.addText(s, today)
}

func (p *profile) addText(s string, today civil.Day) {
	if strings.Contains(s, "@") {
		p.emails++
	}
	if strings.Count(s, ",") == 1 {
		p.commas++
	}
	if !strings.ContainsFunc(s, unicode.IsDigit) {
		return
	}
	if hin.Decode(s).Format != hin.Other {
		p.hins++
	}
	cell := sheet.Cell{Text: s}
	if _, err := ParseDay(cell, "ymd "+excelWord, today); err == nil && len(s) == len("44624") && isDigits(s) {
		p.serials++
	}
	separated := p.by[separatorOf(s)]
	if separated == nil {
		c := newContest(len(DateOrders()))
		separated = &c
		p.by[separatorOf(s)] = separated
	}
	for i, o := range DateOrders() {
		d, err := ParseDay(cell, o, today)
		ok := err == nil
		if parts, _, bad := dateParts(s); o == "ymd" && (bad != nil || len(parts[0]) != 4) {
			ok = ok && bad == nil && hasMonthName(s) // two digits in front are hardly ever the year
		}
		p.orders.vote(i, int64(d), ok)
		separated.vote(i, int64(d), ok)
	}
	p.orders.close(s)
	separated.close(s)
	for i, name := range NumberStyles() {
		v, err := ParseMoney(cell, name)
		if err != nil {
			h, _, hoursErr := ParseHours(cell, name)
			v, err = 10*moneyOf(h), hoursErr
		}
		p.styles.vote(i, int64(v), err == nil)
	}
	p.styles.close(s)
}

func hasMonthName(s string) bool {
	return strings.ContainsFunc(cutTime(s), unicode.IsLetter)
}

// isDate reports whether a column holds dates: days of a workbook, or texts of
// which nearly all can be read as one.
func (p *profile) isDate() bool {
	return p.filled > 0 && 10*p.datesSeen() >= 6*p.filled
}

// datesSeen counts the cells that can be read as a date.
func (p *profile) datesSeen() int { return p.days + slices.Max(p.orders.taken) }

// contest finds out which of several readings of a column's texts is right.
type contest struct {
	taken  []int      // texts that each reading can read
	only   [][]int    // texts that i can read and j cannot
	differ [][]int    // texts that both read, differently
	proof  [][]string // an example of only
	votes  []int64
	ok     []bool
}

func newContest(n int) contest {
	c := contest{taken: make([]int, n), only: make([][]int, n), differ: make([][]int, n), proof: make([][]string, n), votes: make([]int64, n), ok: make([]bool, n)}
	for i := range n {
		c.only[i], c.differ[i], c.proof[i] = make([]int, n), make([]int, n), make([]string, n)
	}
	return c
}

// vote says what one reading makes of the present text.
func (c *contest) vote(i int, value int64, ok bool) { c.votes[i], c.ok[i] = value, ok }

// close counts the votes on the present text.
func (c *contest) close(s string) {
	for i := range c.taken {
		if !c.ok[i] {
			continue
		}
		c.taken[i]++
		for j := range c.taken {
			switch {
			case !c.ok[j]:
				if c.only[i][j]++; c.proof[i][j] == "" {
					c.proof[i][j] = s
				}
			case c.votes[i] != c.votes[j]:
				c.differ[i][j]++
			}
		}
	}
}

// winner is the reading that takes every text that any other takes, and that
// no other contradicts without failing somewhere; -1 if the texts leave two
// readings open or no reading takes them all.
func (c *contest) winner() int {
	for i := range c.taken {
		if c.taken[i] > 0 && c.beatsAll(i) {
			return i
		}
	}
	return -1
}

func (c *contest) beatsAll(i int) bool {
	for j := range c.taken {
		if j != i && (c.only[j][i] > 0 || c.differ[i][j] > 0 && c.only[i][j] == 0) {
			return false
		}
	}
	return true
}

// any reports whether a text was read at all.
func (c *contest) any() bool { return slices.Max(c.taken) > 0 }

// words are a column's different cells, the most frequent first.
func (p *profile) words() []string {
	all := sorted(p.distinct)
	slices.SortStableFunc(all, func(a, b string) int { return cmp.Compare(p.distinct[b], p.distinct[a]) })
	return all
}
