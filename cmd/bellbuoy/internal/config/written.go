package config

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A value is named by its address: "weeks.target", or, where a block of several has
// it, "place[Our lake].launch". Two files are read as one by taking together what
// stands under each address.

// Origin is where a value was written; its zero value is nowhere.
type Origin struct {
	File string // without its folder
	Line int
}

func (o Origin) String() string { return fmt.Sprintf("%s, line %d", o.File, o.Line) }

// Blocks are the settings of which there are several, and by which of their keys
// one is told from another.
func Blocks() map[string][]string {
	return map[string][]string{"weeks.technician": {"name"}, "place": {"name"}, "price": {"rule"}, "yard.work": {"berth", "kind"}}
}

// Written is what settings files say, by address.
type Written struct {
	Values  map[string]any // strings, bools, int64s, float64s and lists of them
	Origins map[string]Origin
	// Blocks are the names of the blocks of a kind, in their order.
	Blocks map[string][]string
	Usual  map[string]any // of [Config.Written]: the values that hold where nothing is written
}

// Address names a value of a block.
func Address(kind, block, key string) string { return kind + "[" + block + "]." + key }

// flatten reads a file that was found to be TOML.
func flatten(file string, data []byte) (*Written, error) {
	w := &Written{Values: make(map[string]any), Origins: make(map[string]Origin), Blocks: make(map[string][]string)}
	tree := make(map[string]any)
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, err
	}
	w.add("", tree, file, lines(data), "")
	return w, nil
}

// add takes in a table; at is its address, and place the same by which lines has it.
func (w *Written) add(at string, table map[string]any, file string, lines map[string]int, place string) {
	for key, v := range table {
		full, where := at+key, place+key
		if inner, ok := v.(map[string]any); ok {
			w.add(full+".", inner, file, lines, where+".")
			continue
		}
		parts := Blocks()[full]
		list, ok := v.([]any)
		if parts == nil || !ok {
			w.Values[full] = v
			w.Origins[full] = Origin{file, lines[where]}
			continue
		}
		for i, one := range list {
			block, ok := one.(map[string]any)
			if !ok {
				continue
			}
			name := w.name(full, parts, block)
			w.Blocks[full] = append(w.Blocks[full], name)
			w.add(full+"["+name+"].", block, file, lines, fmt.Sprintf("%s#%d.", where, i))
		}
	}
}

// name tells a block from those before it in its file; two of one name stay two, for
// the check to find.
func (w *Written) name(kind string, parts []string, block map[string]any) string {
	var of []string
	for _, p := range parts {
		s, _ := block[p].(string)
		of = append(of, s)
	}
	name := strings.Join(of, " ")
	for n := 2; slices.Contains(w.Blocks[kind], name); n++ {
		name = fmt.Sprintf("%s #%d", strings.Join(of, " "), n)
	}
	return name
}

// over is what two files say together; what both say is as the second one has it.
func (w *Written) over(second *Written) *Written {
	out := &Written{Values: maps.Clone(w.Values), Origins: maps.Clone(w.Origins), Blocks: make(map[string][]string)}
	maps.Copy(out.Values, second.Values)
	maps.Copy(out.Origins, second.Origins)
	for kind := range Blocks() {
		all := slices.Clone(second.Blocks[kind])
		for _, name := range w.Blocks[kind] {
			if !slices.Contains(all, name) {
				all = append(all, name)
			}
		}
		out.Blocks[kind] = all
	}
	return out
}

// text writes the values as a file has them.
func (w *Written) text() ([]byte, error) {
	tree := make(map[string]any)
	for kind, names := range w.Blocks {
		var list []map[string]any
		for _, name := range names {
			block := make(map[string]any)
			for addr, v := range w.Values {
				if key, ok := strings.CutPrefix(addr, kind+"["+name+"]."); ok {
					block[key] = v
				}
			}
			list = append(list, block)
		}
		if len(list) > 0 {
			put(tree, kind, list)
		}
	}
	for addr, v := range w.Values {
		if !strings.Contains(addr, "[") {
			put(tree, addr, v)
		}
	}
	return toml.Marshal(tree)
}

// put sets a value in tables inside of one another.
func put(tree map[string]any, addr string, v any) {
	for {
		section, rest, more := strings.Cut(addr, ".")
		if !more {
			tree[addr] = v
			return
		}
		inner, ok := tree[section].(map[string]any)
		if !ok {
			inner = make(map[string]any)
			tree[section] = inner
		}
		tree, addr = inner, rest
	}
}

// lines are on which line of a file each value stands. The values of the third block
// of a kind are under "place#2.launch".
func lines(data []byte) map[string]int {
	at := make(map[string]int)
	count := make(map[string]int)
	table := ""
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			path, _ := keyOf(e)
			table = inBlock(path, count) + "."
		case unstable.ArrayTable:
			path, _ := keyOf(e)
			count[path]++
			table = fmt.Sprintf("%s#%d.", path, count[path]-1)
		case unstable.KeyValue:
			noteLines(at, data, table, e)
		}
	}
	return at
}

// inBlock is the path of a table, in the last block of the kind if it is inside of one.
func inBlock(path string, count map[string]int) string {
	for kind, n := range count {
		if inner, ok := strings.CutPrefix(path, kind+"."); ok {
			return fmt.Sprintf("%s#%d.%s", kind, n-1, inner)
		}
	}
	return path
}

// noteLines notes the line of a key and, if its value is a table or a list of tables
// written on one line, of the keys in it.
func noteLines(at map[string]int, data []byte, table string, e *unstable.Node) {
	path, offset := keyOf(e)
	path = table + path
	at[path] = 1 + bytes.Count(data[:offset], []byte("\n"))
	inside := func(n *unstable.Node, table string) {
		for it := n.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				noteLines(at, data, table, it.Node())
			}
		}
	}
	switch v := e.Value(); v.Kind {
	case unstable.InlineTable:
		inside(v, path+".")
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.InlineTable {
				inside(it.Node(), fmt.Sprintf("%s#%d.", path, i))
				i++
			}
		}
	}
}

// keyOf is a key, and where its last part begins in the file.
func keyOf(e *unstable.Node) (path string, offset int) {
	var parts []string
	for it := e.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		offset = int(it.Node().Raw.Offset)
	}
	return strings.Join(parts, "."), offset
}

// of finds where the value was written that a fault is about: a setting, a block, or
// several settings of a section, of which the pages' own is named first.
func (w *Written) of(field string, pages string) Origin {
	if o, ok := w.Origins[field]; ok {
		return o
	}
	var best Origin
	for _, addr := range slices.Sorted(maps.Keys(w.Origins)) {
		o := w.Origins[addr]
		if !strings.HasPrefix(addr, field+".") && !strings.HasPrefix(addr, field+"[") {
			continue
		}
		if best.Line == 0 || best.File != pages && o.File == pages {
			best = o
		}
	}
	return best
}
