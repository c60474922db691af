package forecast

// borrowed is how much a season seen on a sister engine counts beside one seen
// on the engine itself. Twins mostly run together, but not when one of them
// idles at the dock or is down. Common practice, no source.
const borrowed = 0.8

// Shared lets the engines of one boat learn from each other's readings: an
// engine whose meter was never read borrows from the one that was. It returns
// new models in the same order and leaves the given ones as they are.
//
// The engines make the same outings, so a season seen on both is one season
// seen, not two. An engine therefore keeps its own evidence whole and borrows,
// at a discount, only the running time that the sister with the most of it has
// seen beyond its own. What is borrowed is the rate; the meter stays its own.
func Shared(models ...*Model) []*Model {
	out := make([]*Model, len(models))
	for i, m := range models {
		c := *m
		out[i] = &c
		if sister := longestSeen(models, i); sister != nil && sister.over > m.over && c.prior.Check() == nil {
			extra := borrowed * (sister.over - m.over)
			c.learn(m.seen+extra*sister.seen/sister.over, m.over+extra)
		}
	}
	return out
}

// longestSeen returns the model other than models[i] with the longest running
// time between readings, nil if there is none.
func longestSeen(models []*Model, i int) *Model {
	var best *Model
	for j, m := range models {
		if j != i && (best == nil || m.over > best.over) {
			best = m
		}
	}
	return best
}
