package rules

import (
	"slices"
	"strconv"

	"github.com/pelletier/go-toml/v2/unstable"
)

// lineIndex tells on which line of a TOML file a key stands. Keys are written
// as paths: "rule[3].every.months". The decoder forgets lines once a file is
// well formed, and a fault in a figure is worth nothing without its line.
type lineIndex struct {
	starts []int          // offset of the first byte of each line
	lines  map[string]int // path to line, the first line being 1
	arrays map[string]int // path of an array of tables to its length so far
}

// indexLines reads data, which must have decoded without error.
func indexLines(data []byte) *lineIndex {
	ix := &lineIndex{starts: []int{0}, lines: map[string]int{}, arrays: map[string]int{}}
	for i, b := range data {
		if b == '\n' {
			ix.starts = append(ix.starts, i+1)
		}
	}
	var p unstable.Parser
	p.Reset(data)
	prefix := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			prefix = ix.header(e, false)
		case unstable.ArrayTable:
			prefix = ix.header(e, true)
		case unstable.KeyValue:
			ix.pair(e, prefix)
		}
	}
	return ix
}

// header notes [a.b] or [[a.b]] and returns its path.
func (ix *lineIndex) header(e *unstable.Node, array bool) string {
	path := ""
	for it := e.Key(); it.Next(); {
		path = join(path, string(it.Node().Data))
		if array && it.IsLast() {
			ix.arrays[path]++
		}
		ix.note(path, it.Node())
		if n := ix.arrays[path]; n > 0 {
			path = element(path, n-1)
			if it.IsLast() {
				ix.note(path, it.Node())
			}
		}
	}
	return path
}

// pair notes key = value under prefix, and what stands inside the value.
func (ix *lineIndex) pair(e *unstable.Node, prefix string) {
	path := prefix
	for it := e.Key(); it.Next(); {
		path = join(path, string(it.Node().Data))
		ix.note(path, it.Node())
	}
	ix.value(e.Value(), path)
}

func (ix *lineIndex) value(v *unstable.Node, path string) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			ix.pair(it.Node(), path)
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); i++ {
			ix.value(it.Node(), element(path, i))
		}
	}
}

// note keeps the first line on which a path is met.
func (ix *lineIndex) note(path string, key *unstable.Node) {
	if _, known := ix.lines[path]; known {
		return
	}
	i, found := slices.BinarySearch(ix.starts, int(key.Raw.Offset))
	if found {
		i++
	}
	ix.lines[path] = i
}

// line returns the path's line, or that of the nearest key around it.
func (ix *lineIndex) line(path string) int {
	for path != "" {
		if n, ok := ix.lines[path]; ok {
			return n
		}
		path = parent(path)
	}
	return 1
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func element(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

// parent cuts the last step off a path, a key or an index.
func parent(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '.' || path[i] == '[' {
			return path[:i]
		}
	}
	return ""
}
