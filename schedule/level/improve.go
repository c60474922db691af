package level

import (
	"cmp"
	"math"
	"slices"
)

// improveMost is how many jobs a shop may have for [state.improve] to look for
// exchanges; it costs too much in a larger one, where single moves into weeks
// with room have left little to gain. It depends on the number of jobs alone, so
// that a plan fitted again is searched as far as before.
const improveMost = 2000

// improve exchanges jobs that are new in their weeks as long as that brings
// them nearer to their wishes: rings of jobs each of which takes the place of the
// next. If all jobs are equally long and there is one resource, what is left
// costs least: any cheaper plan differs from it by such rings (the cycle
// canceling of a transport problem; Klein, A primal method for minimal cost
// flows, 1967; from memory).
func (s *state) improve() {
	if len(s.jobs) > improveMost {
		return
	}
	var free []int
	for _, j := range s.order {
		if s.at[j] != none && !s.inPrior(j) && !s.jobs[j].Overdue && s.need[j] != (Amounts{}) {
			free = append(free, j)
		}
	}
	// A week that had to go above its ceiling may stay there.
	room := slices.Clone(s.calm)
	for i := range room {
		for d := range room[i] {
			for r := range s.kinds {
				room[i][d][r] = max(room[i][d][r], s.load[i][d][r])
			}
		}
	}
	barred := make(map[transfer]bool)
	for range 4 * len(free) {
		ring := s.cheaperRing(free, room, barred)
		if ring == nil {
			break
		}
		if !s.turn(ring, room) {
			for _, t := range ring {
				barred[t] = true
			}
		}
	}
	s.shiftAlong(free, room)
	if len(s.jobs) <= chainsMost {
		for s.chainOf(free, room) {
		}
	}
}

// mostLinks is how many jobs a chain of [chains.cheapest] moves at the most:
// in an autumn of so many full weeks a place in the last one lets a boat of the
// first come a week later.
const mostLinks = 16

// shiftAlong lets jobs move along a row of full weeks into one that has room, each
// into the place of one that is about as long, as long as that brings them nearer
// to their wishes. The rings of [state.cheaperRing] know nothing of lengths and in
// a row of full weeks seldom fit.
func (s *state) shiftAlong(free []int, room []byDay) {
	c := &chains{state: s, room: room, may: make([][]int, len(s.weeks)), barred: make(map[transfer]bool)}
	short := slices.SortedStableFunc(slices.Values(free), func(x, y int) int { return cmp.Compare(s.need[x][Labor], s.need[y][Labor]) })
	for _, j := range short {
		for i := s.window[j].lo; i <= s.window[j].hi; i++ {
			c.may[i] = append(c.may[i], j)
		}
	}
	for range 4 * len(free) {
		chain := c.cheapest()
		if chain == nil {
			return
		}
		if !s.turn(chain, room) {
			for _, t := range chain {
				c.barred[t] = true
			}
		}
	}
}

// chains is a search for jobs that move in turn.
type chains struct {
	*state
	room   []byDay
	may    [][]int // the jobs that could come to each week, the short first
	barred map[transfer]bool

	layers [][]link // after so many jobs that came into another's place, for each job
	end    transfer // the last of the best chain so far, which is so long and gains so much
	length int
	gain   int
}

// link is how a chain takes a job out of its week: at what cost up to then, and
// for which job; none if the chain begins with it.
type link struct{ cost, by int }

// never is more than any chain costs.
const never = math.MaxInt / 2

// cheapest finds transfers that make the plan cheaper together, each into the
// place of the next and the last into a week with room; nil if there are none.
// What chains of one job more cost follows from those of one less.
func (c *chains) cheapest() []transfer {
	first := make([]link, len(c.jobs))
	for j := range first {
		first[j] = link{never, none}
		if i := c.at[j]; i != none {
			first[j].cost = -c.costIn(j, i)
		}
	}
	c.layers, c.end, c.gain = append(c.layers[:0], first), transfer{none, none}, 0
	for c.lengthen() && len(c.layers) < mostLinks {
	}
	if c.end.job == none {
		return nil
	}
	chain := []transfer{c.end}
	for j, n := c.end.job, c.length; n > 0; n-- {
		by := c.layers[n][j].by
		chain = append(chain, transfer{by, c.at[j]})
		j = by
	}
	return c.simple(chain)
}

// costIn is what a job costs in a week, all its minutes together.
func (c *chains) costIn(j, i int) int { return c.cost(j, i) * c.need[j].weight() }

// lengthen looks at what the chains so far could end with, and at those that are
// longer by one job; false if there are none.
func (c *chains) lengthen() bool {
	from, next, longer := c.layers[len(c.layers)-1], make([]link, len(c.jobs)), false
	for j := range next {
		next[j] = link{never, none}
	}
	for i := range c.weeks {
		left := c.room[i][6][Labor] - c.load[i][6][Labor]
		best, k := link{never, none}, 0
		come := func(minutes int) { // the cheapest of the jobs that are no longer than that
			for ; k < len(c.may[i]) && c.need[c.may[i][k]][Labor] <= minutes; k++ {
				j := c.may[i][k]
				if c.at[j] == i || from[j].cost == never || len(c.barred) > 0 && c.barred[transfer{j, i}] {
					continue
				}
				if cost := from[j].cost + c.costIn(j, i); cost < best.cost {
					best = link{cost, j}
				}
			}
		}
		if come(left); best.cost < c.gain {
			c.gain, c.end, c.length = best.cost, transfer{best.by, i}, len(c.layers)-1
		}
		for _, j := range c.may[i] {
			if c.at[j] != i {
				continue
			}
			if come(left + c.need[j][Labor]); best.cost < never {
				next[j], longer = link{best.cost - c.costIn(j, i), best.by}, true
			}
		}
	}
	c.layers = append(c.layers, next)
	return longer
}

// simple cuts what goes round in a circle out of a chain, last transfer first: no
// job moves twice. A circle that makes the plan cheaper is what is left.
func (c *chains) simple(chain []transfer) []transfer {
	for b := 1; b < len(chain); b++ {
		a := slices.IndexFunc(chain[:b], func(t transfer) bool { return t.job == chain[b].job })
		if a < 0 {
			continue
		}
		circle, cost := chain[a+1:b+1], 0
		for _, t := range circle {
			cost += c.costIn(t.job, t.to) - c.costIn(t.job, c.at[t.job])
		}
		if cost < 0 {
			return circle
		}
		chain = slices.Delete(chain, a+1, b+1)
		b = a
	}
	return chain
}

// transfer is a job that could go to another week.
type transfer struct{ job, to int }

// edge is a transfer as a step from one week to another, or from a week with room
// into the room of all weeks and out of it: then there is no job, and no cost.
type edge struct{ from, to, cost, job int }

// edges are the cheapest transfers between any two weeks; the room of all weeks is
// one more node after them.
func (s *state) edges(free []int, room []byDay, barred map[transfer]bool) []edge {
	n := len(s.weeks)
	best := make([]edge, n*n)
	for k := range best {
		best[k].job = none
	}
	least := 0
	for _, j := range free {
		if m := s.need[j][Labor]; least == 0 || m < least {
			least = m
		}
		here := s.cost(j, s.at[j])
		for i := s.window[j].lo; i <= s.window[j].hi; i++ {
			if i == s.at[j] || len(barred) > 0 && barred[transfer{j, i}] {
				continue
			}
			e := edge{s.at[j], i, (s.cost(j, i) - here) * s.need[j].weight(), j}
			if old := &best[e.from*n+i]; old.job == none || e.cost < old.cost {
				*old = e
			}
		}
	}
	edges := make([]edge, 0, 4*n)
	for i := range n {
		for _, e := range best[i*n : (i+1)*n] {
			if e.job != none {
				edges = append(edges, e)
			}
		}
		if room[i][6][Labor]-s.load[i][6][Labor] >= least {
			edges = append(edges, edge{i, n, 0, none})
		}
		edges = append(edges, edge{n, i, 0, none})
	}
	return edges
}

// cheaperRing finds transfers that together make the plan cheaper: a negative
// cycle among the weeks, or a chain that begins by leaving a week and ends in one
// with room (a cycle through a node that stands for the room of all weeks). Rings
// of barred transfers are not looked for again. The search is Bellman and Ford's.
func (s *state) cheaperRing(free []int, room []byDay, barred map[transfer]bool) []transfer {
	edges, n := s.edges(free, room, barred), len(s.weeks)
	cost, by := make([]int, n+1), make([]int, n+1)
	for i := range by {
		by[i] = none
	}
	last := none
	for range n + 1 {
		last = none
		for k, e := range edges {
			if c := cost[e.from] + e.cost; c < cost[e.to] {
				cost[e.to], by[e.to], last = c, k, e.to
			}
		}
		if last == none {
			return nil
		}
	}
	for range n + 1 {
		last = edges[by[last]].from // into the cycle
	}
	var ring []transfer
	for at := last; ; {
		e := edges[by[at]]
		if e.job != none {
			ring = append(ring, transfer{e.job, e.to})
		}
		if at = e.from; at == last {
			return ring
		}
	}
}

// weight is what a job's weeks count by: its minutes, of the yard's where it
// needs no technician.
func (a Amounts) weight() int { return max(a[Labor], a[Yard], 1) }

// turn makes the transfers if all of them fit together.
func (s *state) turn(ring []transfer, room []byDay) bool {
	from := make([]int, len(ring))
	for k, t := range ring {
		from[k] = s.at[t.job]
		s.take(t.job)
	}
	for k, t := range ring {
		if s.fits(t.job, t.to, room) {
			s.put(t.job, t.to)
			continue
		}
		for _, done := range slices.Backward(ring[:k]) {
			s.take(done.job)
		}
		for m, t := range ring {
			s.put(t.job, from[m])
		}
		return false
	}
	return true
}

// chainsMost is how many jobs a shop may have for every chain to be looked at:
// lengths differ, and a ring that is cheaper may not fit.
const chainsMost = 64

// chainLength is how many jobs a chain of [state.chainOf] moves at the most.
const chainLength = 4

// chainOf looks for one job that comes nearer to its wish in the place of
// another, that one in the place of a third and so on, as long as the sum gains.
func (s *state) chainOf(free []int, room []byDay) bool {
	may := make(map[int]bool, len(free))
	for _, j := range free {
		may[j] = true
	}
	for _, j := range free {
		from := s.at[j]
		gain := s.cost(j, from) * s.need[j].weight()
		if gain == 0 {
			continue
		}
		s.take(j)
		may[j] = false
		if s.chain(j, gain, chainLength-1, may, room) {
			return true
		}
		s.put(j, from)
		may[j] = true
	}
	return false
}

// chain gives a job that was taken out of its week another, so that of the gain
// something is left; if that cannot be, everything is as before.
func (s *state) chain(j, gain, more int, may map[int]bool, room []byDay) bool {
	for i := s.window[j].lo; i <= s.window[j].hi; i++ {
		left := gain - s.cost(j, i)*s.need[j].weight()
		if left <= 0 {
			continue
		}
		if s.fits(j, i, room) {
			s.put(j, i)
			return true
		}
		if more == 0 {
			continue
		}
		for _, k := range slices.Clone(s.member[i]) {
			if !may[k] {
				continue
			}
			s.take(k)
			if s.fits(j, i, room) {
				s.put(j, i)
				may[k] = false
				if s.chain(k, left+s.cost(k, i)*s.need[k].weight(), more-1, may, room) {
					return true
				}
				may[k] = true
				s.take(j)
			}
			s.put(k, i)
		}
	}
	return false
}
