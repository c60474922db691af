package rules

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule/measure"
)

// reading is one file being read. Faults pile up in it, so that whoever
// corrects the file sees all of them at once.
type reading struct {
	file    string
	index   *lineIndex
	faults  []fault
	renamed []Finding // keys under their old names
}

type fault struct {
	line int
	text string
}

// open decodes the file. Only TOML that is not well formed stops it.
func open(file string, data []byte) (*reading, *table, error) {
	var values map[string]any
	if err := toml.Unmarshal(data, &values); err != nil {
		var de *toml.DecodeError
		if errors.As(err, &de) {
			line, _ := de.Position()
			return nil, nil, fmt.Errorf("%s:%d: not TOML from here on: %v", file, line, err)
		}
		return nil, nil, fmt.Errorf("%s: not TOML: %v", file, err)
	}
	r := &reading{file: file, index: indexLines(data)}
	return r, &table{r: r, values: values}, nil
}

// err joins the faults in order of line; nil when there are none.
func (r *reading) err() error {
	slices.SortStableFunc(r.faults, func(a, b fault) int { return cmp.Compare(a.line, b.line) })
	errs := make([]error, len(r.faults))
	for i, f := range r.faults {
		errs[i] = fmt.Errorf("%s:%d: %s", r.file, f.line, f.text)
	}
	return errors.Join(errs...)
}

// table reads the keys of one TOML table. A key that is absent leaves its
// target alone; a key that nobody asked for is a fault when the table is closed.
type table struct {
	r      *reading
	path   string // in the file: "rule[3].every"
	what   string // in messages: `rule "impeller": `
	field  string // in messages, before the key: "every."
	values map[string]any
	asked  []string
}

// line returns the line on which the table begins.
func (t *table) line() int { return t.r.index.line(t.path) }

// fault notes what is wrong with a key and what to do about it.
func (t *table) fault(key, format string, args ...any) {
	text := t.what + t.field + key + ": " + fmt.Sprintf(format, args...)
	t.r.faults = append(t.r.faults, fault{t.r.index.line(join(t.path, key)), text})
}

func (t *table) take(key string) (any, bool) {
	t.asked = append(t.asked, key)
	v, ok := t.values[key]
	return v, ok
}

// renamed reads a key that still has its old name, and notes it.
func (t *table) renamed(old, key string) {
	v, ok := t.values[old]
	if !ok {
		return
	}
	if _, both := t.values[key]; both {
		t.fault(old, "stands beside %q, its new name; take it out", key)
	}
	t.r.renamed = append(t.r.renamed, Finding{t.r.file, t.r.index.line(join(t.path, old)), "", SeverityWarning,
		fmt.Sprintf("%s is called %s now; the old name is read for one more release", old, key)})
	delete(t.values, old)
	t.values[key] = v
}

// given returns the keys that the table has, rising.
func (t *table) given() []string { return slices.Sorted(maps.Keys(t.values)) }

// close notes the keys that nobody asked for.
func (t *table) close() {
	for _, key := range t.given() {
		if slices.Contains(t.asked, key) {
			continue
		}
		if near := nearest(key, t.asked); near != "" {
			t.fault(key, "unknown key; did you mean %q?", near)
		} else {
			t.fault(key, "unknown key; take it out, or use one of %s", quoted(t.asked))
		}
	}
}

func (t *table) text(key string, dst *string) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	s, ok := v.(string)
	if !ok || s == "" {
		t.fault(key, "want a text in quotes, got %s", shown(v))
		return
	}
	*dst = s
}

func (t *table) flag(key string, dst *bool) {
	if v, ok := t.take(key); ok {
		if *dst, ok = v.(bool); !ok {
			t.fault(key, "want true or false, got %s", shown(v))
		}
	}
}

// whole reads a whole number from 0 to most.
func (t *table) whole(key, unit string, most int, dst *int) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	n, ok := v.(int64)
	if !ok || n < 0 || n > int64(most) {
		t.fault(key, "want whole %s from 0 to %d, got %s", unit, most, shown(v))
		return
	}
	*dst = int(n)
}

// number reads a number from 0 to most.
func (t *table) number(key, unit string, most float64, dst *float64) {
	if v, ok := t.take(key); ok {
		f, ok := asFloat(v)
		if !ok || !(f >= 0 && f <= most) {
			t.fault(key, "want %s from 0 to %v, got %s", unit, most, shown(v))
			return
		}
		*dst = f
	}
}

func asFloat(v any) (float64, bool) {
	switch n := v.(type) {
	case int64:
		return float64(n), true
	case float64:
		return n, !math.IsNaN(n)
	}
	return 0, false
}

// hours reads meter hours with at most one decimal.
func (t *table) hours(key string, dst *measure.Hours) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	f, ok := asFloat(v)
	h, err := measure.ParseHours(strconv.FormatFloat(f, 'f', -1, 64))
	if !ok || err != nil {
		t.fault(key, "want engine hours with at most one decimal, for example 100 or 12.5, got %s", shown(v))
		return
	}
	*dst = h
}

// cents reads money, as a number or in quotes.
func (t *table) cents(key string, dst *measure.Cents) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	s, isText := v.(string)
	if f, ok := asFloat(v); ok {
		s, isText = strconv.FormatFloat(f, 'f', -1, 64), true
	}
	c, err := measure.ParseCents(s)
	if !isText || err != nil || c < 0 {
		t.fault(key, "want money with at most two decimals, for example 89.50, got %s", shown(v))
		return
	}
	*dst = c
}

// texts reads a list of texts. Duplicates are refused; "" only where empty says
// so, since there it stands for "not recorded".
func (t *table) texts(key string, empty bool, dst *[]string) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	list, ok := v.([]any)
	if !ok {
		t.fault(key, "want a list of texts, for example [\"a\", \"b\"], got %s", shown(v))
		return
	}
	out := make([]string, 0, len(list))
	for _, e := range list {
		s, ok := e.(string)
		switch {
		case !ok || s == "" && !empty:
			t.fault(key, "want texts in quotes, got %s", shown(e))
			return
		case slices.Contains(out, s):
			t.fault(key, "%q stands there twice; keep one", s)
			return
		}
		out = append(out, s)
	}
	*dst = out
}

// table opens a table within the table, nil if there is none.
func (t *table) table(key string) *table {
	v, ok := t.take(key)
	if !ok {
		return nil
	}
	m, ok := v.(map[string]any)
	if !ok {
		t.fault(key, "want a table, for example { months = 12 }, got %s", shown(v))
		return nil
	}
	return &table{r: t.r, path: join(t.path, key), what: t.what, field: t.field + key + ".", values: m}
}

// tables opens the tables of a list.
func (t *table) tables(key string) []*table {
	v, ok := t.take(key)
	if !ok {
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		t.fault(key, "want a list of tables, got %s", shown(v))
		return nil
	}
	var out []*table
	for i, e := range list {
		m, ok := e.(map[string]any)
		if !ok {
			t.fault(key, "want tables only, got %s", shown(e))
			continue
		}
		out = append(out, &table{r: t.r, path: element(join(t.path, key), i), what: t.what, field: t.field + key + ".", values: m})
	}
	return out
}

// shown writes a value as a message quotes it, cut short.
func shown(v any) string {
	s := fmt.Sprintf("%v", v)
	if _, ok := v.(string); ok {
		s = fmt.Sprintf("%q", v)
	}
	if runes := []rune(s); len(runes) > 60 {
		s = string(runes[:60]) + "..."
	}
	return s
}
