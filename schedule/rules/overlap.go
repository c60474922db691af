package rules

import (
	"maps"
	"slices"
	"strings"
)

// boatKeys are the attributes that every component has from its boat.
func boatKeys() []string { return []string{"berth", "boat_kind", "water"} }

// allows returns the values that the conditions leave to an attribute with a
// closed list, "" among them.
func allows(where []Condition, key string) []string {
	for _, c := range where {
		if c.Key == key {
			return c.Any
		}
	}
	return append([]string{""}, closed[key]...)
}

// possible finds an engine that meets the conditions, as propulsion, stroke and
// fuel; there is none when every combination is an impossible pair.
func possible(where []Condition) (map[string]string, bool) {
	for _, p := range allows(where, "propulsion") {
		for _, s := range allows(where, "stroke") {
			for _, f := range allows(where, "fuel") {
				e := map[string]string{"propulsion": p, "stroke": s, "fuel": f}
				if !slices.ContainsFunc(impossible, func(x [2]pair) bool {
					return e[x[0].key] == x[0].value && e[x[1].key] == x[1].value
				}) {
					return e, true
				}
			}
		}
	}
	return nil, false
}

// both returns the conditions that hold where a and b hold, false if nothing
// can meet them.
func both(a, b []Condition) ([]Condition, bool) {
	out := slices.Clone(a)
	for _, c := range b {
		i := slices.IndexFunc(out, func(o Condition) bool { return o.Key == c.Key })
		if i < 0 {
			out = append(out, c)
			continue
		}
		var common []string
		for _, v := range out[i].Any {
			if slices.Contains(c.Any, v) {
				common = append(common, v)
			}
		}
		if len(common) == 0 {
			return nil, false
		}
		out[i].Any = common
	}
	_, ok := possible(out)
	return out, ok
}

// within reports whether a's conditions allow nothing that b's do not.
func within(a, b []Condition) bool {
	for _, c := range b {
		i := slices.IndexFunc(a, func(o Condition) bool { return o.Key == c.Key })
		if i < 0 || slices.ContainsFunc(a[i].Any, func(v string) bool { return !slices.Contains(c.Any, v) }) {
			return false
		}
	}
	return true
}

// overlaps reports pairs of rules by which one component would get the same
// service twice.
func (k *checker) overlaps() {
	for i := range k.c.Rules {
		b := &k.c.Rules[i]
		for j := range i {
			a := &k.c.Rules[j]
			if a.Component != b.Component || a.Service != b.Service || a.Once != b.Once {
				continue
			}
			common, ok := both(a.Where, b.Where)
			switch {
			case !ok:
			case within(b.Where, a.Where):
				k.err(b, "is shadowed: whatever it applies to gets %q from rule %q (%s:%d) already; narrow that one's where", b.Service, a.Code, a.File, a.Line)
			case within(a.Where, b.Where):
				k.err(b, "shadows rule %q (%s:%d): whatever that one applies to gets %q from this one too; narrow where", a.Code, a.File, a.Line, b.Service)
			default:
				k.err(b, "overlaps rule %q (%s:%d): both ask for %q on a component with %s; narrow one's where", a.Code, a.File, a.Line, b.Service, describe(common))
			}
		}
	}
}

// covers checks that every covered service exists.
func (k *checker) covers() {
	for i := range k.c.Rules {
		r := &k.c.Rules[i]
		for _, s := range r.Covers {
			if !k.c.HasService(s) {
				k.err(r, "covers %q, which is no service%s", s, meant(s, k.c.ServiceCodes()))
			}
		}
	}
}

// cycles reports services that cover themselves by way of others, once for the
// first of each ring.
func (k *checker) cycles() {
	next := map[string][]string{}
	for i := range k.c.Rules {
		r := &k.c.Rules[i]
		next[r.Service] = append(next[r.Service], r.Covers...)
	}
	for _, s := range slices.Sorted(maps.Keys(next)) {
		ring := shortestRing(s, next)
		if len(ring) == 0 || slices.Min(ring) != s {
			continue
		}
		for i := range k.c.Rules {
			if r := &k.c.Rules[i]; r.Service == s && slices.Contains(r.Covers, ring[1]) {
				k.err(r, "covers itself: %s; take one out of covers", strings.Join(ring, " -> "))
				break
			}
		}
	}
}

// shortestRing returns the shortest way from a service back to it, with the
// service at both ends; nil if there is none.
func shortestRing(start string, next map[string][]string) []string {
	from := map[string]string{}
	for queue := []string{start}; len(queue) > 0; queue = queue[1:] {
		for _, s := range next[queue[0]] {
			if s == start {
				return trace(start, queue[0], from)
			}
			if _, seen := from[s]; !seen {
				from[s] = queue[0]
				queue = append(queue, s)
			}
		}
	}
	return nil
}

func trace(start, last string, from map[string]string) []string {
	ring := []string{start}
	for s := last; s != start; s = from[s] {
		ring = append(ring, s)
	}
	ring = append(ring, start)
	slices.Reverse(ring)
	return ring
}
