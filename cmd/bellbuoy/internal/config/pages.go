package config

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// pagesName is the file beside the database that pages write settings into. It is
// read after the file that a person writes, which wins.
const pagesName = "settings.toml"

// PagesFault is a fault that is gone without the file that pages write.
type PagesFault struct {
	File string
	Err  error
}

func (f *PagesFault) Error() string { return f.Err.Error() }
func (f *PagesFault) Unwrap() error { return f.Err }

// PagesFile is where what pages change is kept, with its folder.
func (c *Config) PagesFile() string {
	return filepath.Join(filepath.Dir(c.Path(c.Files.Database)), pagesName)
}

// Pages is the text of that file, nil if there is none.
func (c *Config) Pages() []byte { return c.pages }

// Name is the file that a person writes, as it was named.
func (c *Config) Name() string { return c.name }

// sameFile reports whether a shop's settings file is what pages would write.
func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// CanChange says why pages cannot change these settings, "" if they can.
func (c *Config) CanChange() string {
	if sameFile(c.name, c.PagesFile()) {
		return fmt.Sprintf("The file that a person writes is itself called %s. Give it another name, and pages can have that one.", pagesName)
	}
	return ""
}

// With are the settings of the file that a person writes as it was read, and of
// another text for the pages' file; nil for none. All faults come at once.
func (c *Config) With(pages []byte) (*Config, error) {
	n := &Config{name: c.name, main: c.main, Renamed: c.Renamed, pages: pages}
	if pages == nil {
		if err := n.take(c.name, c.main); err != nil {
			return nil, err
		}
		if err := n.validate(); err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
		return n, nil
	}
	name := c.PagesFile()
	own := &Config{name: c.name}
	if err := own.take(name, pages); err != nil {
		return nil, err
	}
	w, err := flatten(name, pages)
	if err != nil {
		return nil, describe(name, err)
	}
	if err := onlyPages(w); err != nil {
		return nil, err
	}
	main, err := flatten(c.name, c.main)
	if err != nil {
		return nil, describe(c.name, err)
	}
	both := w.over(main)
	text, err := both.text()
	if err == nil {
		err = n.take(c.name, text)
	}
	if err != nil {
		return nil, fmt.Errorf("%s and %s: %w", c.name, name, err)
	}
	if faults, ok := n.validate().(Faults); ok {
		for i := range faults {
			faults[i].At = both.of(faults[i].Field, name)
			if faults[i].At.Line == 0 {
				faults[i].At = Origin{name, 1}
			}
		}
		return nil, faults
	}
	return n, nil
}

// onlyPages refuses what pages do not change, by name.
func onlyPages(w *Written) error {
	known := make(map[string]bool)
	for _, s := range Settings() {
		known[s.Key] = true
	}
	var faults []error
	for _, addr := range slices.Sorted(maps.Keys(w.Values)) {
		if !known[plainKey(addr)] {
			o := w.Origins[addr]
			faults = append(faults, fmt.Errorf("%s:%d: %s: not a setting that pages change; write it into the file that --config names", o.File, o.Line, plainKey(addr)))
		}
	}
	return errors.Join(faults...)
}

// plainKey is the setting of an address: "place.launch" of "place[Our lake].launch".
func plainKey(addr string) string {
	kind, rest, ok := strings.Cut(addr, "[")
	if !ok {
		return addr
	}
	return kind + rest[strings.LastIndex(rest, "]")+1:]
}

// BlockOf is the name of the block that an address is in, "" if it is in none.
func BlockOf(addr string) string {
	_, rest, ok := strings.Cut(addr, "[")
	if !ok {
		return ""
	}
	return rest[:strings.LastIndex(rest, "]")]
}

// Addresses are those of a setting among others, in their order.
func (s *Setting) Addresses(among map[string]any) []string {
	var out []string
	for _, addr := range slices.Sorted(maps.Keys(among)) {
		if plainKey(addr) == s.Key {
			out = append(out, addr)
		}
	}
	return out
}

// Overruled says of each setting of the pages' file that the other file has too where
// it is written and which one holds.
func (c *Config) Overruled() ([]string, error) {
	pages, err := flatten(filepath.Base(c.PagesFile()), c.pages)
	if err != nil {
		return nil, err
	}
	main, err := flatten(filepath.Base(c.name), c.main)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, addr := range slices.Sorted(maps.Keys(pages.Values)) {
		parts := Blocks()[strings.SplitN(addr, "[", 2)[0]]
		if slices.Contains(parts, addr[strings.LastIndex(addr, ".")+1:]) {
			continue // by its name the block is known in both
		}
		if by, both := main.Origins[addr]; both {
			out = append(out, fmt.Sprintf("%s: %s is written in %s too, which holds", pages.Origins[addr], addr, by))
		}
	}
	return out, nil
}

// Written is what stands in the two files and in the template, taken together.
func (c *Config) Written() (*Written, error) {
	all, err := flatten("", Template)
	if err != nil {
		return nil, err
	}
	clear(all.Origins)
	usual := maps.Clone(all.Values)
	for _, f := range []struct {
		name string
		text []byte
	}{{c.PagesFile(), c.pages}, {c.name, c.main}} {
		w, err := flatten(filepath.Base(f.name), f.text)
		if err != nil {
			return nil, err
		}
		all = all.over(w)
	}
	all.Usual = usual
	return all, nil
}
