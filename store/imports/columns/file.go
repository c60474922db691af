package columns

import (
	"cmp"
	"slices"
	"strings"

	"bellbuoy/schedule"
)

// File is one of the five files.
type File[R any] struct {
	Name    string
	ID      string // the column of a row's own id, "" if rows are not known by one
	Columns []Column[R]
	// own is where the shop's own attributes go, of which each has a further column;
	// nil if there are none. notOwn are names that none may have.
	own    func(*R) *string
	notOwn []string
}

// Header is the first line of a file with the columns of some attributes.
func (f *File[R]) Header(own ...string) []string {
	names := make([]string, 0, len(f.Columns)+len(own))
	for _, c := range f.Columns {
		names = append(names, c.Name)
	}
	return append(names, own...)
}

// Without is the file without some columns.
func (f *File[R]) Without(names ...string) *File[R] {
	less := *f
	less.Columns = slices.DeleteFunc(slices.Clone(f.Columns), func(c Column[R]) bool { return slices.Contains(names, c.Name) })
	return &less
}

// Cells are a row under that header.
func (f *File[R]) Cells(r *R, own ...string) []string {
	cells := make([]string, 0, len(f.Columns)+len(own))
	for _, c := range f.Columns {
		cells = append(cells, c.cell(r))
	}
	for _, name := range own {
		cells = append(cells, schedule.Attr{Extra: *f.own(r)}.Get(name))
	}
	return cells
}

// Check checks a row that no cells were read for, and tidies its texts.
func (f *File[R]) Check(l *Line, r *R) {
	for i := range f.Columns {
		c := &f.Columns[i]
		if c.text != nil {
			*c.text(r) = l.Tidy(c.Name, *c.text(r))
		}
		if c.check != nil {
			c.check(l, r)
		}
	}
}

// Layout is a file with the header that it really has.
type Layout[R any] struct {
	file  *File[R]
	Width int   // how many cells a line has
	at    []int // by column: where it stands, -1 if it is not there
	id    int   // likewise, of the row's own id
	own   []ownColumn
}

type ownColumn struct {
	name string
	at   int
}

// Bind reads a header; ok is false if it has faults.
func (f *File[R]) Bind(l *Line, header []string) (lay *Layout[R], ok bool) {
	lay = &Layout[R]{file: f, Width: len(header), id: -1}
	names := make([]string, len(header))
	for i, c := range header {
		names[i] = strings.ToLower(strings.TrimSpace(c))
	}
	for _, c := range f.Columns {
		lay.at = append(lay.at, slices.Index(names, c.Name))
	}
	for i, name := range names {
		switch {
		case slices.Index(names, name) < i:
			l.Fault(name, "the column is there twice; keep one")
		case slices.Contains(f.Header(), name):
			if name == f.ID {
				lay.id = i
			}
		case f.own != nil && isName(name) && !slices.Contains(f.notOwn, name) && DidYouMean(name, lay.missing()) == "":
			lay.own = append(lay.own, ownColumn{name, i})
		default:
			l.Fault(name, "unknown column; %s", cmp.Or(DidYouMean(name, f.Header()), "rename it or take it out"))
		}
	}
	slices.SortFunc(lay.own, func(a, b ownColumn) int { return cmp.Compare(a.name, b.name) })
	for i, c := range f.Columns {
		if c.Required && lay.at[i] < 0 {
			l.Fault(c.Name, "the column is missing; add it, its cells may be empty where nothing is known")
		}
	}
	return lay, !l.Bad
}

// missing are the columns that the header lacks.
func (lay *Layout[R]) missing() (names []string) {
	for i, c := range lay.file.Columns {
		if lay.at[i] < 0 {
			names = append(names, c.Name)
		}
	}
	return names
}

// ID is the row's own id as it stands in a line, "" if there is none.
func (lay *Layout[R]) ID(cells []string) string {
	if lay.id < 0 {
		return ""
	}
	return strings.TrimSpace(cells[lay.id])
}

// Read reads and checks a line of as many cells as the header. A cell that cannot be
// read is not checked further.
func (lay *Layout[R]) Read(l *Line, cells []string, r *R) {
	for i := range lay.file.Columns {
		c, s := &lay.file.Columns[i], ""
		bad := l.Bad
		l.Bad = false
		if at := lay.at[i]; at >= 0 {
			s = l.Tidy(c.Name, cells[at])
		}
		if s != "" {
			c.read(l, s, r)
		}
		unread := l.Bad
		l.Bad = l.Bad || bad
		if c.check != nil && !unread {
			c.check(l, r)
		}
	}
	if lay.own != nil {
		*lay.file.own(r) = lay.attributes(l, cells)
	}
}

// attributes collects the further columns in canonical form: "brakes=disc;tyres=two".
func (lay *Layout[R]) attributes(l *Line, cells []string) string {
	var pairs []string
	for _, c := range lay.own {
		v := l.Tidy(c.name, cells[c.at])
		if strings.ContainsAny(v, ";=\n") {
			l.Fault(c.name, "%q holds a semicolon, an equals sign or a line end; an attribute has none", v)
		}
		if v != "" {
			pairs = append(pairs, c.name+"="+v)
		}
	}
	slices.Sort(pairs)
	return strings.Join(pairs, ";")
}

// Lacks reports whether a row of the file may leave out what is known of it. The
// shop's own attributes may always.
func (lay *Layout[R]) Lacks() bool {
	return lay != nil && (lay.file.own != nil || slices.Contains(lay.at, -1))
}

// Keep copies from a known row what the file has no column for.
func (lay *Layout[R]) Keep(now, was *R) {
	for i := range lay.file.Columns {
		if lay.at[i] < 0 {
			lay.file.Columns[i].copy(now, was)
		}
	}
	if lay.file.own == nil {
		return
	}
	to := lay.file.own(now)
	pairs := slices.DeleteFunc(strings.Split(*to, ";"), func(s string) bool { return s == "" })
	for pair := range strings.SplitSeq(*lay.file.own(was), ";") {
		name, _, _ := strings.Cut(pair, "=")
		if name != "" && !slices.ContainsFunc(lay.own, func(c ownColumn) bool { return c.name == name }) {
			pairs = append(pairs, pair)
		}
	}
	slices.Sort(pairs)
	*to = strings.Join(pairs, ";")
}

// isName reports whether s can be the name of an attribute.
func isName(s string) bool {
	for i := range len(s) {
		c := s[i]
		if !(c >= 'a' && c <= 'z' || c == '_' || i > 0 && c >= '0' && c <= '9') {
			return false
		}
	}
	return s != ""
}
