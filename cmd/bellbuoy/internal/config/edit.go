package config

import (
	"maps"
	"path/filepath"
	"reflect"
	"strings"
)

// Edit is what a page changes.
type Edit struct {
	// Values are by key; nil, and what is usual, leave the key out of the file.
	Values map[string]any
	// Blocks are, of a kind, all those that the pages' file has from then on, each by
	// the plain names of its keys.
	Blocks map[string][]map[string]any
}

// pagesHead begins the file that pages write.
const pagesHead = `# Written by the pages under Settings, and read after the file that --config names:
# what is written there wins. "bellbuoy check --settings" says what holds. Remarks
# in this file are lost when a page writes it again.

`

// Edited is the text of the pages' file after an edit.
func (c *Config) Edited(e Edit) ([]byte, error) {
	w, err := flatten(filepath.Base(c.PagesFile()), c.pages)
	if err != nil {
		return nil, err
	}
	usual, err := flatten("", Template)
	if err != nil {
		return nil, err
	}
	for key, v := range e.Values {
		if delete(w.Values, key); v != nil && !alike(v, usual.Values[key]) {
			w.Values[key] = v
		}
	}
	for kind, list := range e.Blocks {
		maps.DeleteFunc(w.Values, func(addr string, _ any) bool { return strings.HasPrefix(addr, kind+"[") })
		w.Blocks[kind] = nil
		for _, block := range list {
			name := w.name(kind, Blocks()[kind], block)
			w.Blocks[kind] = append(w.Blocks[kind], name)
			for key, v := range block {
				w.Values[Address(kind, name, key)] = v
			}
		}
	}
	text, err := w.text()
	return append([]byte(pagesHead), text...), err
}

// Differences are the addresses of what is different in b, of the settings that
// pages change, in the order of the pages.
func (a *Written) Differences(b *Written) []string {
	var out []string
	for _, s := range Settings() {
		both := maps.Clone(a.Values)
		maps.Copy(both, b.Values)
		for _, addr := range s.Addresses(both) {
			if !alike(a.Values[addr], b.Values[addr]) {
				out = append(out, addr)
			}
		}
	}
	return out
}

// alike reports whether two values are the same; 8 and 8.0 are.
func alike(a, b any) bool {
	number := func(v any) any {
		switch v := v.(type) {
		case int64:
			return float64(v)
		case []any:
			out := make([]any, len(v))
			for i := range v {
				if out[i] = v[i]; reflect.TypeOf(v[i]) == reflect.TypeFor[int64]() {
					out[i] = float64(v[i].(int64))
				}
			}
			return out
		}
		return v
	}
	return reflect.DeepEqual(number(a), number(b))
}

// Initial is the text that "bellbuoy init" writes: the template, with a mark before
// every setting that pages change, so that it is not fixed there.
func Initial() []byte {
	text := strings.Split(string(Template), "\n")
	at := lines(Template)
	for _, s := range Settings() {
		if n := at[s.Key]; n > 0 {
			text[n-1] = "# " + text[n-1]
		}
	}
	return []byte(strings.Join(text, "\n"))
}
