package tables

// Change is what writing a row did.
type Change int

const (
	// Unchanged says that the row stood there as it is.
	Unchanged Change = iota
	// Changed says that another row of the same key stood there.
	Changed
	// Added says that there was none of its key.
	Added
)
