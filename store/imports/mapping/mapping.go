// Package mapping reads a shop's own tables by a mapping that the shop has
// approved: which column holds what, in which order its dates are written, how
// its numbers look, and what its words mean. It also drafts such a mapping by
// looking at the data. It decides what a cell means and says why it cannot; it
// never guesses in silence: where the data leave two readings open, the draft
// holds a question and nothing is read until it is answered. It never looks
// into the store and writes nothing. Package store and the intake command call
// it; the files themselves are package sheet's.
package mapping

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/store/imports/sheet"
)

// Open marks a question in a mapping that a person has to answer.
const Open = "?"

// LeaveOut as the meaning of a word returns the rows that hold it, with that
// as the reason.
const LeaveOut = "-"

// Rest stands for the texts that contain none of the phrases of a mapping.
const Rest = "*"

// Mapping says how a shop's files are read.
type Mapping struct {
	PhoneRegion string   `toml:"phone_region"` // ISO 3166 code of the numbers without a country code
	Encoding    string   `toml:"encoding"`     // of text files, see package sheet; "" finds out
	Delimiter   string   `toml:"delimiter"`    // of text files; "" finds out
	Blank       []string `toml:"blank"`        // words that stand for an empty cell
	Sheets      []Sheet  `toml:"sheet"`
}

// Sheet says how one table is read. Columns are named by their header; a
// second column of the same name is "Name (2)", one without a name "column C".
type Sheet struct {
	Name   string `toml:"name"`   // of the sheet in a workbook, of a text file without its folder
	Skip   bool   `toml:"skip"`   // leave the whole table out
	Header int    `toml:"header"` // the row that names the columns, from 1; 0 means the first

	Columns  map[string]string            `toml:"columns"`  // column to field, see [Fields]; "" leaves it out
	Dates    map[string]string            `toml:"dates"`    // column to the order of its dates, see [DateOrders]
	Numbers  map[string]string            `toml:"numbers"`  // column to how its numbers look, see [NumberStyles]
	Words    map[string]map[string]string `toml:"words"`    // field to the shop's word to the program's
	Contains map[string]string            `toml:"contains"` // phrase in a text of work.service to services; [Rest] stands for all other texts
	Defaults map[string]string            `toml:"defaults"` // field to what holds where the table says nothing
}

// Parse reads a mapping. Unknown keys, fields, orders and styles are errors,
// all of them at once, with their line where it is known.
func Parse(data []byte) (*Mapping, error) {
	m := &Mapping{}
	err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(m)
	if strict := (*toml.StrictMissingError)(nil); errors.As(err, &strict) {
		var all []error
		for _, e := range strict.Errors {
			line, _ := e.Position()
			all = append(all, fmt.Errorf("line %d: unknown setting %q", line, strings.Join(e.Key(), ".")))
		}
		return nil, errors.Join(all...)
	}
	if bad := (*toml.DecodeError)(nil); errors.As(err, &bad) {
		line, column := bad.Position()
		return nil, fmt.Errorf("line %d, column %d: %s", line, column, strings.TrimPrefix(bad.Error(), "toml: "))
	}
	if err != nil {
		return nil, err
	}
	return m, m.check()
}

// SheetOptions are what the mapping says about text files.
func (m *Mapping) SheetOptions() sheet.Options {
	return sheet.Options{Encoding: m.Encoding, Delimiter: m.Delimiter}
}

// check finds what no data can make right.
func (m *Mapping) check() error {
	var all []error
	if r := m.PhoneRegion; r != "" && r != Open && !PhoneRegion(r) {
		all = append(all, fmt.Errorf("phone_region %q: want the two capital letters of a country, for example US", r))
	}
	if len(m.Sheets) == 0 {
		all = append(all, errors.New("no [[sheet]]; every table that is to be read has one"))
	}
	for i := range m.Sheets {
		s := &m.Sheets[i]
		for _, err := range s.check() {
			all = append(all, fmt.Errorf("sheet %q: %w", s.Name, err))
		}
	}
	return errors.Join(all...)
}

func (s *Sheet) check() (all []error) {
	known := fields()
	say := func(format string, args ...any) { all = append(all, fmt.Errorf(format, args...)) }
	for _, column := range sorted(s.Columns) {
		name := s.Columns[column]
		if _, ok := fieldOf(known, name); !ok && name != "" && name != Open {
			say("column %q: %q is no field; the fields are %s", column, name, strings.Join(Fields(), ", "))
		}
	}
	for _, column := range sorted(s.Dates) {
		if _, err := parseOrder(s.Dates[column]); err != nil && s.Dates[column] != Open {
			say("dates of %q: %w", column, err)
		}
	}
	for _, column := range sorted(s.Numbers) {
		if v := s.Numbers[column]; v != Open && !slices.Contains(NumberStyles(), v) {
			say("numbers of %q: %q; want one of %s", column, v, strings.Join(NumberStyles(), "  "))
		}
	}
	for _, name := range sorted(s.Words) {
		if f, ok := fieldOf(known, name); !ok || f.kind != wordField {
			say("words: %q is no field that takes one word of a list", name)
		}
	}
	for _, name := range sorted(s.Defaults) {
		if _, ok := fieldOf(known, name); !ok {
			say("defaults: %q is no field", name)
		}
	}
	if s.Header < 0 {
		say("header %d: rows count from 1", s.Header)
	}
	return all
}

// Questions lists what a person has still to answer, in words; none when the
// mapping may be used.
func (m *Mapping) Questions() (all []string) {
	ask := func(s *Sheet, format string, args ...any) {
		all = append(all, fmt.Sprintf("sheet %q: ", s.Name)+fmt.Sprintf(format, args...))
	}
	if m.PhoneRegion == Open {
		all = append(all, "which country's phone numbers are written without a country code (phone_region)?")
	}
	for i := range m.Sheets {
		s := &m.Sheets[i]
		if s.Skip {
			continue
		}
		for _, c := range sorted(s.Columns) {
			if s.Columns[c] == Open {
				ask(s, "what does the column %q hold?", c)
			}
		}
		for _, c := range sorted(s.Dates) {
			if s.Dates[c] == Open {
				ask(s, "in which order are the dates of %q written?", c)
			}
		}
		for _, c := range sorted(s.Numbers) {
			if s.Numbers[c] == Open {
				ask(s, "how are the numbers of %q written?", c)
			}
		}
		for _, f := range sorted(s.Words) {
			for _, w := range sorted(s.Words[f]) {
				if s.Words[f][w] == Open {
					ask(s, "what does %q mean as %s?", w, f)
				}
			}
		}
		for _, w := range sorted(s.Contains) {
			if s.Contains[w] == Open {
				ask(s, "which service is meant where %q is part of the text?", w)
			}
		}
		for _, f := range sorted(s.Defaults) {
			if s.Defaults[f] == Open {
				ask(s, "what is %s where the table does not say?", f)
			}
		}
	}
	return all
}

// sheet finds the block for a table: by its name, or the only one there is for
// the only table.
func (m *Mapping) sheet(name string, tables int) *Sheet {
	for i := range m.Sheets {
		if m.Sheets[i].Name == name {
			return &m.Sheets[i]
		}
	}
	if tables == 1 && len(m.Sheets) == 1 {
		return &m.Sheets[0]
	}
	return nil
}

// sorted are the keys of a map, rising.
func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
