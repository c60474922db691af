package imports

// origins remember which rows of the tables each row of a file was made of.
type origins struct {
	starts []int32 // by line: where its rows begin in rows
	rows   []place
}

// add numbers a row of the file; the first is 1.
func (o *origins) add(from []place) (line int) {
	o.starts = append(o.starts, int32(len(o.rows)))
	o.rows = append(o.rows, from...)
	return len(o.starts)
}

// of returns what a row of the file was made of, nil if there is no such row.
func (o *origins) of(line int) []place {
	switch {
	case line < 1 || line > len(o.starts):
		return nil
	case line == len(o.starts):
		return o.rows[o.starts[line-1]:]
	}
	return o.rows[o.starts[line-1]:o.starts[line]]
}
