package returns

import "bellbuoy/schedule/civil"

// Row is one year of sale in the matrix of return rates.
type Row struct {
	Year  int // of the sale
	Sales int // sales of that year
	Cells []Share
}

// Matrix is the return rate by year of sale and season. Cells are in the order
// of Seasons; a cell with Of 0 lies before the first full season.
type Matrix struct {
	Seasons []Season
	Rows    []Row
	All     []Share // all years of sale together
}

// ReturnMatrix counts returns from one season to the one that holds today.
func ReturnMatrix(all []History, first Season, today civil.Day) Matrix {
	var m Matrix
	for s := first; s.First() <= today; s = s.Next() {
		m.Seasons = append(m.Seasons, s)
	}
	m.All = make([]Share, len(m.Seasons))
	years := make(map[int]int)
	lo, hi := 0, 0
	for i := range all {
		if h := &all[i]; h.Sold != 0 && h.Sold <= today {
			y := h.Sold.Year()
			years[y]++
			if lo == 0 || y < lo {
				lo = y
			}
			hi = max(hi, y)
		}
	}
	if lo == 0 {
		return m
	}
	for y := lo; y <= hi; y++ {
		m.Rows = append(m.Rows, Row{Year: y, Sales: years[y], Cells: make([]Share, len(m.Seasons))})
	}
	for i := range all {
		h := &all[i]
		if h.Sold == 0 || h.Sold > today {
			continue
		}
		for j, s := range m.Seasons {
			if !h.Chanced(s, today) {
				continue
			}
			for _, c := range []*Share{&m.Rows[h.Sold.Year()-lo].Cells[j], &m.All[j]} {
				c.Of++
				if h.CameIn(s) {
					c.Came++
				}
			}
		}
	}
	return m
}
