package level

// Fit gives every job a week: in the week nearest to its wish that has hours.
func Fit(weeks []Week, jobs []Job) Result {
	load := make([]Week, len(weeks))
	copy(load, weeks)
	var r Result
	for _, j := range jobs {
		p := Placement{ID: j.ID}
		if w, ok := Place(load, j, 1); ok {
			p.Week = w
			for i := range load {
				if load[i].Week == w {
					load[i].Booked += j.Minutes
					break
				}
			}
		}
		r.Placements = append(r.Placements, p)
	}
	return r
}
