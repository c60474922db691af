package level

import "slices"

// step is how a search reached a week: a job that lies in week from would move
// here. From nowhere it is the job that wants to get in.
type step struct{ job, from int }

// route lets j in by a chain of moves over as many weeks as it takes: j pushes
// a job to another week, that one pushes another, until one finds room. It
// looks at each week once, nearest first, which finds the shortest chain of
// weeks but, as lengths differ, not every chain that there is; [board.chain]
// does that for small shops.
func (b *board) route(j int, told bool) bool {
	reached := make([]step, len(b.weeks))
	for i := range reached {
		reached[i] = step{nowhere, nowhere}
	}
	var line []int // weeks to look at
	for i := b.window[j].lo; i <= b.window[j].hi; i++ {
		reached[i] = step{j, nowhere}
		line = append(line, i)
	}
	for len(line) > 0 {
		i := line[0]
		line = line[1:]
		for _, to := range b.pushOn(i, told, reached) {
			if b.size[reached[to].job] <= b.room(to) {
				b.follow(reached, to)
				return true
			}
			line = append(line, to)
		}
	}
	return false
}

// pushOn marks the weeks that jobs of week i could move to if the job that
// reached i came in: for each week the job that it matters least to move. It
// returns the weeks that are new.
func (b *board) pushOn(i int, told bool, reached []step) []int {
	need := b.size[reached[i].job] - b.room(i)
	var found []int
	for _, k := range b.member[i] {
		if b.size[k] < need || !told && b.wasTold(k) {
			continue
		}
		for to := b.window[k].lo; to <= b.window[k].hi; to++ {
			switch at := reached[to]; {
			case at.job == nowhere:
				found = append(found, to)
			case at.from != i || b.movesBefore(k, at.job) >= 0:
				continue
			}
			reached[to] = step{k, i}
		}
	}
	slices.Sort(found)
	return found
}

// follow makes the moves of a search, from the week with room back to the job
// that gets in.
func (b *board) follow(reached []step, to int) {
	for at := reached[to]; ; at = reached[to] {
		if at.from == nowhere {
			b.put(at.job, to)
			return
		}
		b.move(at.job, to, MadeRoom)
		to = at.from
	}
}
