package climate

// Detect tells the format of a file whose columns have their usual names.
func Detect(head []byte) (Format, error) { return detect(head, Options{}) }
