package mapping

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store/imports/sheet"
)

// ProposeOptions are what a draft is made with.
type ProposeOptions struct {
	Today    civil.Day
	Services []Service // that rules know
	Places   []string  // that the settings name
	Region   string    // of telephone numbers; "" asks
	Prior    *Mapping  // an earlier draft, whose answers stay; nil if there is none
}

// draft is the proposal for one table.
type draft struct {
	o        ProposeOptions
	book     *sheet.Book
	table    string
	prior    *Sheet // of an earlier draft; empty if there is none
	header   int
	rows     int
	columns  []*profile
	fields   []string // by column; "" leaves it out
	comments []string // by column
}

// Propose looks at all rows of the books and drafts a mapping with the evidence
// in comments. Whatever the data leave open stands as "?" and has to be
// answered by hand. The text is TOML that [Parse] reads.
func Propose(books []*sheet.Book, o ProposeOptions) (string, error) {
	text, _, err := Draft(books, o)
	return text, err
}

// Draft is [Propose] with all that a person may change, in the order of the text.
func Draft(books []*sheet.Book, o ProposeOptions) (text string, asked []Question, err error) {
	w := &writer{}
	w.head(books, o)
	for _, book := range books {
		for _, table := range book.Sheets() {
			d := &draft{o: o, book: book, table: table, prior: &Sheet{}}
			if o.Prior != nil {
				d.prior = cmp.Or(o.Prior.sheet(table, len(book.Sheets())), d.prior)
			}
			if err := d.look(); err != nil {
				return "", nil, err
			}
			d.assign()
			if err := w.sheet(d); err != nil {
				return "", nil, err
			}
		}
	}
	return w.b.String(), w.asked, nil
}

// headerRows is how far down a header is looked for.
const headerRows = 10

// look finds the header and profiles the columns. A table without rows keeps
// header 0.
func (d *draft) look() error {
	best, score := 0, 0
	var names []string
	err := d.book.Rows(d.table, func(r sheet.Row) error {
		if r.Line > headerRows && best > 0 || r.Line > 10*headerRows {
			return errFound
		}
		if r.Line == d.prior.Header {
			best, score, names = r.Line, math.MaxInt, columnNames(trimRight(r.Cells))
		} else if s := headerScore(r.Cells); s > score {
			best, score, names = r.Line, s, columnNames(trimRight(r.Cells))
		}
		return nil
	})
	if err != nil && err != errFound {
		return err
	}
	d.header = best
	for _, n := range names {
		d.columns = append(d.columns, newProfile(n))
	}
	return d.book.Rows(d.table, func(r sheet.Row) error {
		if r.Line <= d.header || d.header == 0 {
			return nil
		}
		d.rows++
		if headerAgain(r.Cells, func(i int) string { return names[min(i, len(names)-1)] }) {
			return nil
		}
		for i, c := range r.Cells[:min(len(r.Cells), len(d.columns))] {
			d.columns[i].add(c, d.o.Today)
		}
		return nil
	})
}

func trimRight(cells []sheet.Cell) []sheet.Cell {
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1].Text) == "" {
		cells = cells[:len(cells)-1]
	}
	return cells
}

// headerScore is high for a row of several words, higher for words that columns
// are often called by.
func headerScore(cells []sheet.Cell) int {
	score := 0
	for _, c := range cells {
		s := strings.TrimSpace(c.Text)
		switch {
		case s == "" || c.Kind != sheet.Text || len(s) > 40:
		case guessHeader(s) != "" || len(phrasesIn(phraseOf(s), servicePhrases())) > 0:
			score += 4
		case strings.Trim(s, "0123456789/.-:,$ ") != "":
			score++
		}
	}
	return score
}

// assign gives each column a field, "" to leave it out, or the question.
func (d *draft) assign() {
	d.fields = make([]string, len(d.columns))
	d.comments = make([]string, len(d.columns))
	for i, p := range d.columns {
		d.fields[i], d.comments[i] = d.guess(p)
	}
	d.settleNames()
	d.settleWork()
	for i, f := range d.fields {
		if f == "" || f == Open {
			continue
		}
		if first := slices.Index(d.fields, f); first < i {
			d.fields[i] = Open
			d.comments[i] = fmt.Sprintf("looks like %s, as %q does; choose one, \"\" leaves a column out", f, d.columns[first].name)
		}
	}
	for i, p := range d.columns {
		d.fields[i], d.comments[i] = answered(d.prior.Columns, p.name, d.fields[i], d.comments[i])
	}
}

// answered puts the answer of an earlier draft in the place of a guess.
func answered(prior map[string]string, key, guess, comment string) (value, why string) {
	if was, known := prior[key]; known && was != Open {
		return was, comment
	}
	return guess, comment
}

// guess looks at a column's name, then at its cells.
func (d *draft) guess(p *profile) (field, comment string) {
	switch {
	case strings.EqualFold(p.name, Reason):
		return "", "why a row came back"
	case strings.EqualFold(p.name, RowID):
		return "", "by which a row that came back is known"
	}
	if p.filled == 0 {
		return "", "empty"
	}
	field = guessHeader(p.name)
	service := guessService(p.name, d.o.Services)
	switch {
	case field != "" && d.plausible(field, p):
		return field, p.eg()
	case service != "" && p.datesSeen() > 0:
		return doneField + service, p.eg()
	case p.isDate():
		return Open, "dates of what? For days of a service write done.SERVICE; " + p.eg()
	case 2*p.emails > p.filled:
		return "customer.email", "most cells are email addresses"
	case 2*p.hins > p.filled:
		return "boat.hin", "most cells are hull identification numbers"
	}
	return "", "left out; " + p.eg()
}

// plausible keeps a name from deciding against the cells.
func (d *draft) plausible(field string, p *profile) bool {
	f, _ := fieldOf(fields(), field)
	switch f.kind {
	case dayField:
		return p.datesSeen()+p.serials > 0
	case moneyField, hoursField:
		return !p.isDate() && (p.numbers > 0 || p.styles.any())
	case wordField:
		return d.understood(field, p)
	}
	return !p.isDate() || field == "boat.year"
}

// understood reports whether half of a column's different words can be guessed:
// a column called Dock may hold numbers of docks.
func (d *draft) understood(field string, p *profile) bool {
	list := d.list(field)
	if field == "work.service" || field == "boat.place" || len(list) == 0 {
		return !p.isDate()
	}
	known := 0
	for w := range p.distinct {
		if guessWord(field, w, list) != "" {
			known++
		}
	}
	return 2*known >= len(p.distinct)
}

// eg shows what stands in a column.
func (p *profile) eg() string {
	var quoted []string
	for _, e := range p.examples {
		quoted = append(quoted, fmt.Sprintf("%.30q", e))
	}
	return fmt.Sprintf("%s, for example %s", words.Count(p.filled, "cell"), strings.Join(quoted, ", "))
}

// settleNames tells customers' from boats' where a column is only called Name,
// and names with the last one first.
func (d *draft) settleNames() {
	for i, p := range d.columns {
		if d.fields[i] != "customer.name" {
			if d.fields[i] == "customer.id" && plainName(p.name) == "customer" && strings.ContainsAny(strings.Join(p.examples, ""), " ,") {
				d.fields[i] = "customer.name"
			} else {
				continue
			}
		}
		first := slices.Index(d.fields, "customer.name")
		switch {
		case plainName(p.name) == "name" && (first != i || d.has("customer.last_name") || d.hasOther(i, "customer.name")):
			d.fields[i] = "boat.name"
		case 2*p.commas > p.filled:
			d.fields[i] = "customer.name_last_first"
		}
	}
}

func (d *draft) hasOther(i int, field string) bool {
	return slices.Contains(d.fields[i+1:], field)
}

func (d *draft) has(field string) bool { return slices.Contains(d.fields, field) }

// settleWork gives columns that speak of work a meaning only in a table of
// work: one with services and days.
func (d *draft) settleWork() {
	work := d.has("work.service") && d.has("work.day")
	for i, f := range d.fields {
		switch {
		case work && f == "engine.hours":
			d.fields[i] = "work.hours"
		case !work && f == "work.day":
			d.fields[i] = Open
			d.comments[i] = "dates of what? " + d.columns[i].eg()
		case !work && strings.HasPrefix(f, "work."):
			d.fields[i] = ""
			d.comments[i] = "left out: the table has no services with days; " + d.columns[i].eg()
		}
	}
}

// list is the closed list of words of a field, none if it takes any.
func (d *draft) list(field string) []string {
	switch {
	case field == "work.service":
		var codes []string
		for _, s := range d.o.Services {
			codes = append(codes, s.Code)
		}
		return codes
	case field == "boat.place":
		return d.o.Places
	}
	_, rest, _ := strings.Cut(field, ".")
	return map[string][]string{
		"kind": schedule.BoatKinds, "water": schedule.Waters, "berth": schedule.Berths, "propulsion": schedule.Propulsions, "stroke": schedule.Strokes,
		"fuel": schedule.Fuels, "cooling": schedule.Coolings, "contact_by": schedule.ContactWays, "language": texts.Languages(), "by": schedule.Doers,
		"winter_work": {"yes", "no"},
	}[rest]
}

// moneyOf makes hours comparable with money, for telling styles apart.
func moneyOf(h measure.Hours) measure.Cents { return measure.Cents(h) }
