package mapping

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"bellbuoy/schedule/words"
	"bellbuoy/store/imports/sheet"
)

// writer writes a draft as TOML, and keeps what it asks.
type writer struct {
	b       strings.Builder
	asked   []Question
	present string // the table that is being written
}

// ask writes a setting that a person may have to change.
func (w *writer) ask(part, key, value, comment string, choices []string) {
	w.asked = append(w.asked, Question{Table: w.present, Part: part, Key: key, Value: value, Evidence: strings.Join(strings.Fields(comment), " "), Choices: choices})
	if part == PartRegion {
		w.pair(key, value, comment)
		return
	}
	w.pair(quote(key), value, comment)
}

func (w *writer) line(format string, args ...any) {
	fmt.Fprintf(&w.b, format, args...)
	w.b.WriteByte('\n')
}

// pair writes a setting with a comment behind it.
func (w *writer) pair(key, value, comment string) {
	if comment != "" {
		comment = "  # " + strings.Join(strings.Fields(comment), " ")
	}
	w.line("%s = %s%s", key, quote(value), comment)
}

// head writes what holds for all tables.
func (w *writer) head(books []*sheet.Book, o ProposeOptions) {
	w.line(`# Drafted from the data; read it through before it is used. Every "?" is a`)
	w.line(`# question that the data leave open: write the answer in its place. "" behind a`)
	w.line(`# column leaves it out. Fields:`)
	for row := range slices.Chunk(Fields(), 4) {
		w.line("#   %s", strings.Join(row, ", "))
	}
	w.line("")
	prior := o.Prior
	if prior == nil {
		prior = &Mapping{}
	}
	region := cmp.Or(strings.Trim(prior.PhoneRegion, Open), o.Region, Open)
	w.ask(PartRegion, "phone_region", region, "two letters of the country whose phone numbers are written without a country code", nil)
	for _, b := range books {
		if d := b.Dialect(); !b.Workbook() {
			comment := ""
			if d.Encoding == sheet.Windows1252 {
				comment = "some bytes are not UTF-8; look whether accents come out right"
			}
			w.pair("encoding", cmp.Or(prior.Encoding, d.Encoding), comment)
			w.pair("delimiter", cmp.Or(prior.Delimiter, d.Delimiter), "")
			break
		}
	}
	for _, b := range books {
		for _, hidden := range b.Hidden() {
			w.line("# %q of %s is hidden there and left out; show it and save the workbook to have it read.", hidden, b.Name())
		}
	}
	blank := []string{"-", "--", "n/a", "N/A", "none"}
	if len(prior.Blank) > 0 {
		blank = prior.Blank
	}
	for i := range blank {
		blank[i] = quote(blank[i])
	}
	w.line("blank = [%s]  # stand for an empty cell", strings.Join(blank, ", "))
}

// sheet writes one table's block.
func (w *writer) sheet(d *draft) error {
	w.present = d.table
	w.line("\n[[sheet]]")
	w.pair("name", d.table, words.Count(d.rows, "row"))
	skip := d.rows == 0 || d.prior.Skip || !d.useful() && d.prior.Name == ""
	value := map[bool]string{true: SkipTable, false: ReadTable}[skip]
	w.asked = append(w.asked, Question{Table: d.table, Part: PartTable, Key: d.table, Value: value, Evidence: words.Count(d.rows, "row"), Choices: []string{ReadTable, SkipTable}})
	if skip {
		w.line("skip = true  # nothing in it looks like boats, customers or work")
		return nil
	}
	w.line("header = %d", d.header)
	w.line("\n[sheet.columns]")
	for i, p := range d.columns {
		w.ask(PartColumns, p.name, d.fields[i], d.comments[i], d.columnChoices(p))
	}
	w.dates(d)
	w.numbers(d)
	if err := w.words(d); err != nil {
		return err
	}
	w.defaults(d)
	return nil
}

// columnChoices are what a column may hold: a service's days only if it holds days.
func (d *draft) columnChoices(p *profile) []string {
	var all []string
	for _, f := range fields() {
		all = append(all, f.name)
	}
	if p.datesSeen() > 0 {
		for _, s := range d.o.Services {
			all = append(all, doneField+s.Code)
		}
	}
	return all
}

// useful reports whether a table names boats or customers.
func (d *draft) useful() bool {
	return slices.ContainsFunc(d.fields, func(f string) bool {
		return strings.HasPrefix(f, "customer.") || strings.HasPrefix(f, "boat.")
	})
}

// kindOf is the kind of a column's field, and whether it has one.
func (d *draft) kindOf(i int) (kind, bool) {
	if d.fields[i] == Open {
		return dayField, d.columns[i].isDate()
	}
	f, ok := fieldOf(fields(), d.fields[i])
	return f.kind, ok
}

func (w *writer) dates(d *draft) {
	begun := false
	for i, p := range d.columns {
		if k, ok := d.kindOf(i); !ok || k != dayField {
			continue
		}
		if !begun {
			w.line("\n[sheet.dates]  # mdy, dmy, ymd or either; with \" excel\" behind it where bare numbers are day numbers")
			begun = true
		}
		order, why := p.order()
		order, why = answered(d.prior.Dates, p.name, order, why)
		w.ask(PartDates, p.name, order, why, p.orderChoices())
	}
}

// order decides the order of a column's dates, or asks. Separators have an order
// each where the texts say so.
func (p *profile) order() (order, why string) {
	c := &p.orders
	if i := c.winner(); !c.any() {
		order, why = "ymd", "no text; the workbook says which day each cell is"
	} else if asked := p.unproven(); asked != "" {
		order, why = Open, asked
	} else if i >= 0 {
		order, why = DateOrders()[i], c.proofOf(i)
	} else if order, why = p.ordersBySeparator(); order == "" {
		order, why = Open, p.orderQuestion()
	}
	if p.serials > 0 {
		why += "; " + words.Count(p.serials, "cell") + " with a bare number"
		if order != Open {
			order += " " + excelWord
		}
	}
	return order, why
}

// proofOf says why an order won.
func (c *contest) proofOf(i int) string {
	for j, name := range DateOrders() {
		if c.only[i][j] > 0 {
			return fmt.Sprintf("%s only read this way and not %s, for example %q", words.Count(c.only[i][j], "cell"), name, c.proof[i][j])
		}
	}
	return "every cell reads the same in any order"
}

// unproven asks where one separator's dates tell their order and another's do
// not: what holds for slashes need not hold for points.
func (p *profile) unproven() string {
	proven, open := "", ""
	for _, sep := range sorted(p.by) {
		if c := p.by[sep]; c.any() && c.winner() >= 0 && c.only[0][1]+c.only[1][0] > 0 {
			proven += fmt.Sprintf(" %s %s", sep, DateOrders()[c.winner()])
		} else if c.winner() < 0 && c.differ[0][1] > 0 && c.only[0][1]+c.only[1][0] == 0 && sep != "" {
			open += fmt.Sprintf(", nothing tells the order of the %s with %q", words.Count(c.differ[0][1], "cell"), sep)
		}
	}
	if proven == "" || open == "" {
		return ""
	}
	return "proven:" + proven + open + `; answer for each, as in "/ mdy . dmy"`
}

// ordersBySeparator gives each separator its order, "" if the texts leave one open.
func (p *profile) ordersBySeparator() (order, why string) {
	for _, sep := range sorted(p.by) {
		c := p.by[sep]
		i := c.winner()
		switch {
		case !c.any() || sep == "":
		case i < 0:
			return "", ""
		default:
			order += " " + sep + " " + DateOrders()[i]
			why += fmt.Sprintf("; with %q %s", sep, c.proofOf(i))
		}
	}
	return strings.TrimSpace(order), strings.TrimPrefix(why, "; ")
}

// orderChoices are the orders that a column's dates may be written in.
func (p *profile) orderChoices() []string {
	all := append(DateOrders(), eitherOrder)
	var seps []string
	for _, sep := range sorted(p.by) {
		if c := p.by[sep]; sep != "" && c.any() {
			seps = append(seps, sep)
		}
	}
	if len(seps) == 2 {
		for _, o := range [][2]string{{"mdy", "dmy"}, {"dmy", "mdy"}} {
			all = append(all, seps[0]+" "+o[0]+" "+seps[1]+" "+o[1])
		}
	}
	if p.serials > 0 {
		for i := range all {
			all[i] += " " + excelWord
		}
	}
	return all
}

// orderQuestion says what is known about an open order.
func (p *profile) orderQuestion() string {
	c, names := &p.orders, DateOrders()
	if c.only[0][1] > 0 && c.only[1][0] > 0 {
		return fmt.Sprintf("mixed: %d cells fit only %s (%q), %d only %s (%q), %d fit both; rows that do not fit the answer come back, and with %q those that fit both",
			c.only[0][1], names[0], c.proof[0][1], c.only[1][0], names[1], c.proof[1][0], c.differ[0][1], eitherOrder)
	}
	return fmt.Sprintf("%s, none tells the order; is %q %s or %s?", words.Count(slices.Max(c.taken), "cell"), p.examples[0], names[0], names[1])
}

func (w *writer) numbers(d *draft) {
	begun := false
	for i, p := range d.columns {
		if k, ok := d.kindOf(i); !ok || k != moneyField && k != hoursField {
			continue
		}
		if !begun {
			w.line("\n[sheet.numbers]  # how one thousand two hundred thirty-four and a half is written: %s", strings.Join(NumberStyles(), "  "))
			begun = true
		}
		style, why := p.style()
		style, why = answered(d.prior.Numbers, p.name, style, why)
		w.ask(PartNumbers, p.name, style, why, NumberStyles())
	}
}

// style decides how a column's numbers are written, or asks.
func (p *profile) style() (style, why string) {
	c, names := &p.styles, NumberStyles()
	if !c.any() {
		return plainStyle, "no text; the workbook says which number each cell is"
	}
	i := c.winner()
	if i < 0 {
		return Open, fmt.Sprintf("the cells leave it open, for example %q", p.examples)
	}
	for j := range names {
		if c.only[i][j] > 0 {
			return names[i], fmt.Sprintf("%s only read this way and not %s, for example %q", words.Count(c.only[i][j], "cell"), names[j], c.proof[i][j])
		}
	}
	return names[i], "every cell reads the same in any style"
}

func (w *writer) words(d *draft) error {
	for i, p := range d.columns {
		field := d.fields[i]
		list := d.list(field)
		if k, ok := d.kindOf(i); !ok || k != wordField || len(list) == 0 {
			continue
		}
		several := ""
		if field == "work.service" {
			several = "; several with commas between; " + quote(moneyOnly) + " keeps the money only"
		}
		w.line("\n[sheet.words.%s]  # one of %s; \"-\" returns the rows%s", quote(field), strings.Join(list, ", "), several)
		seen := map[string]bool{}
		if free := len(p.distinct) > mostWords; free && field == "work.service" {
			w.priorWords(d, field, seen)
			if err := w.contains(d, i); err != nil {
				return err
			}
			continue
		} else if free {
			w.line("# more than %d different words, of which only the first are listed", mostWords)
		}
		for _, word := range p.words() {
			for _, piece := range d.pieces(field, word, list) {
				if key := fold(piece); !seen[key] {
					seen[key] = true
					w.word(d, field, piece, p.distinct[piece], list)
				}
			}
		}
		w.priorWords(d, field, seen)
	}
	return nil
}

// priorWords keeps the answers of an earlier draft that these rows do not ask for.
func (w *writer) priorWords(d *draft, field string, seen map[string]bool) {
	for _, word := range sorted(d.prior.Words[field]) {
		if meaning := d.prior.Words[field][word]; meaning != Open && !seen[fold(word)] {
			w.ask(PartWords+field, word, meaning, "", d.list(field))
		}
	}
}

// pieces divides a cell with several services, if the whole means nothing.
func (d *draft) pieces(field, word string, list []string) []string {
	if field != "work.service" || len(guessServices(word, d.o.Services)) > 0 || !strings.ContainsAny(word, ",;/&+\n") {
		return []string{word}
	}
	var all []string
	for _, p := range strings.FieldsFunc(word, func(r rune) bool { return strings.ContainsRune(",;/&+\n", r) }) {
		if p = strings.TrimSpace(p); p == "" {
			continue
		}
		if len(guessServices(p, d.o.Services)) == 0 {
			return []string{word}
		}
		all = append(all, p)
	}
	return all
}

func (w *writer) word(d *draft, field, word string, n int, list []string) {
	if slices.Contains([]string{"-", "--", "n/a", "none"}, strings.ToLower(word)) {
		return
	}
	meaning := ""
	if field == "work.service" {
		meaning = strings.Join(guessServices(word, d.o.Services), ", ")
	} else {
		meaning = guessWord(field, word, list)
	}
	if meaning == "" {
		meaning = Open
	}
	comment := ""
	if n > 0 {
		comment = words.Count(n, "row")
	}
	meaning, comment = answered(d.prior.Words[field], word, meaning, comment)
	w.ask(PartWords+field, word, meaning, comment, list)
}

// defaults writes what holds where the table says nothing, and asks for what
// every boat needs.
func (w *writer) defaults(d *draft) {
	describes := slices.ContainsFunc(d.fields, func(f string) bool {
		return f == "boat.make" || f == "boat.model" || f == "boat.year" || f == "boat.kind"
	})
	engineHours := d.has("engine.hours") && !d.has("engine.hours_on")
	if !describes && !engineHours {
		return
	}
	w.line("\n[sheet.defaults]  # what holds where the table says nothing")
	if describes {
		for _, f := range []string{"boat.kind", "boat.water", "boat.place", "boat.berth", "engine.propulsion"} {
			list := d.list(f)
			value, comment := Open, "one of "+strings.Join(list, ", ")
			if len(list) == 1 {
				value = list[0]
			}
			if d.has(f) {
				value, comment = "", "the table says it; "+comment
			}
			if f == "engine.propulsion" && value == Open {
				comment += `; "" for boats without an engine`
			}
			value, comment = answered(d.prior.Defaults, f, value, comment)
			w.ask(PartDefaults, f, value, comment, list)
		}
	}
	if engineHours {
		value, comment := answered(d.prior.Defaults, "engine.hours_on", Open, "the day on which the meters were read, YYYY-MM-DD")
		w.ask(PartDefaults, "engine.hours_on", value, comment, nil)
	}
}

// quote writes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
