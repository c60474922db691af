package level

import (
	"cmp"
	"slices"
)

// queue serves jobs to weeks by earliest deadline. It counts jobs by deadline
// and length and never looks at a single one until it deals them out, so trying
// a set of rooms costs weeks x deadlines x lengths at most, whatever the number
// of jobs.
type queue struct {
	b       *board
	lengths []int     // distinct minutes, longest first
	arrive  [][]batch // by first week
	jobs    [][]int   // by cell, in order of first week, then rank
}

// batch is a number of jobs of one cell: one deadline and one length.
type batch struct{ cell, count int }

// deal is a batch that one week takes.
type deal struct {
	week int
	batch
}

// newQueue takes the jobs that want is true for.
func (b *board) newQueue(want func(j int) bool) *queue {
	n := len(b.weeks)
	q := &queue{b: b, arrive: make([][]batch, n)}
	var in []int
	for _, j := range b.order {
		if want(j) {
			in = append(in, j)
		}
	}
	slices.SortStableFunc(in, func(x, y int) int { return cmp.Compare(b.window[x].lo, b.window[y].lo) })
	place := make(map[int]int)
	for _, j := range in {
		place[b.size[j]] = 0
	}
	for s := range place {
		q.lengths = append(q.lengths, s)
	}
	slices.SortFunc(q.lengths, func(x, y int) int { return cmp.Compare(y, x) })
	for k, s := range q.lengths {
		place[s] = k
	}
	q.jobs = make([][]int, n*len(q.lengths))
	for _, j := range in {
		w := b.window[j]
		cell := w.hi*len(q.lengths) + place[b.size[j]]
		q.jobs[cell] = append(q.jobs[cell], j)
	}
	for cell, jobs := range q.jobs {
		for k := 0; k < len(jobs); {
			lo, from := b.window[jobs[k]].lo, k
			for k < len(jobs) && b.window[jobs[k]].lo == lo {
				k++
			}
			q.arrive[lo] = append(q.arrive[lo], batch{cell, k - from})
		}
	}
	return q
}

// feasible reports whether every job is served in time.
func (q *queue) feasible(room []int) bool {
	left := q.serve(room, func(deal) {})
	return left == 0
}

// place puts every job that is served in time into its week.
func (q *queue) place(room []int) {
	next := make([]int, len(q.jobs))
	q.serve(room, func(d deal) {
		for range d.count {
			q.b.put(q.jobs[d.cell][next[d.cell]], d.week)
			next[d.cell]++
		}
	})
}

// serve lets each week take the waiting jobs in order of deadline, the longest
// first among equals; a job too long for what is left of the week waits, and
// those behind it may go before. It returns how many were not served in time.
func (q *queue) serve(room []int, take func(deal)) int {
	s := len(q.lengths)
	waiting := make([]int, len(q.jobs))
	byDeadline := make([]int, len(room))
	missed := 0
	for i, left := range room {
		for _, a := range q.arrive[i] {
			waiting[a.cell] += a.count
			byDeadline[a.cell/s] += a.count
		}
		for d := i; d < len(room) && s > 0 && left >= q.lengths[s-1]; d++ {
			for k := 0; k < s && byDeadline[d] > 0; k++ {
				cell, length := d*s+k, q.lengths[k]
				n := waiting[cell]
				if length > 0 {
					n = min(n, left/length)
				}
				if n > 0 {
					waiting[cell] -= n
					byDeadline[d] -= n
					left -= n * length
					take(deal{i, batch{cell, n}})
				}
			}
		}
		missed += byDeadline[i]
	}
	return missed
}
