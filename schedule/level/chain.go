package level

import (
	"cmp"
	"slices"
)

// depth is how many jobs may move in turn in a search that leaves nothing out.
// In a large shop a week holds so many visits that some of them have the right
// length, and [board.route] is enough; in a small one a few long visits are a
// puzzle, and cheap enough to look through. It depends on the number of jobs alone, so that a plan fitted again is searched
// as far as before.
func (b *board) depth() int {
	switch n := len(b.jobs); {
	case n <= 64:
		return 3
	case n <= 2000:
		return 2
	}
	return 1
}

// makeRoom moves other jobs to other weeks in their own time, so that j gets
// in: as few as possible, and jobs whose customers were told only if nothing
// else will do.
func (b *board) makeRoom(j int) bool {
	for _, told := range []bool{false, true} {
		if told && !b.anyTold {
			break // as before
		}
		if b.shift(j, told) {
			return true
		}
		for d := 2; d <= b.depth(); d++ {
			if b.chain(j, d, told, map[int]bool{}) {
				return true
			}
		}
		if b.route(j, told) {
			return true
		}
	}
	return false
}

// shift moves the one job that it matters least to move.
func (b *board) shift(j int, told bool) bool {
	best, to := nowhere, nowhere
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		for _, k := range b.member[i] {
			if b.room(i)+b.size[k] < b.size[j] || b.wasTold(k) && !told || best != nowhere && b.movesBefore(k, best) >= 0 {
				continue
			}
			if t := b.emptiest(k); t != nowhere {
				best, to = k, t
			}
		}
	}
	if best == nowhere {
		return false
	}
	i := b.at[best]
	b.move(best, to, MadeRoom)
	b.put(j, i)
	return true
}

// chain lets j take the place of another job, that one of a third and so on,
// until the last finds room; if it finds none, everything is as before. The
// jobs in held have moved already.
func (b *board) chain(j, depth int, told bool, held map[int]bool) bool {
	if i := b.emptiest(j); i != nowhere {
		b.put(j, i)
		return true
	}
	if depth == 0 {
		return false
	}
	held[j] = true
	defer delete(held, j)
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		for _, k := range slices.SortedFunc(slices.Values(b.member[i]), b.movesBefore) {
			if held[k] || b.wasTold(k) && !told || b.room(i)+b.size[k] < b.size[j] {
				continue
			}
			b.leave(k, MadeRoom)
			b.put(j, i)
			if b.chain(k, depth-1, told, held) {
				return true
			}
			b.take(j)
			b.put(k, i)
		}
	}
	return false
}

// wasTold reports whether the customer was told the week that the job lies in.
func (b *board) wasTold(j int) bool { return b.jobs[j].Told && b.inPrior(j) }

// movesBefore orders jobs by how little it matters to move them.
func (b *board) movesBefore(x, y int) int {
	px, py := b.inPrior(x), b.inPrior(y)
	return cmp.Or(
		falseFirst(b.wasTold(x), b.wasTold(y)),
		falseFirst(px, py),
		cmp.Compare(b.size[x], b.size[y]),
		cmp.Compare(b.rank[x], b.rank[y]),
	)
}
