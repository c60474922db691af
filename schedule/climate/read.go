package climate

import (
	"bufio"
	"fmt"
	"io"
)

// Read reads a weather file of any known format and works out its freeze days
// at the threshold. The error is [Faults] or a [*Fault] when the file is wrong,
// with line and what to do; else what the reader failed with.
func Read(r io.Reader, t Threshold, o Options) (*Freeze, error) {
	b := bufio.NewReaderSize(&lineEnds{r: r}, maxLine)
	head, err := b.Peek(maxLine)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("reading the weather file: %w", err)
	}
	format, err := detect(head, o)
	if err != nil {
		return nil, err
	}
	if format == FormatNormals {
		return ReadNormals(b, t, o)
	}
	s, err := readDaily(b, format, o)
	if err != nil {
		return nil, err
	}
	return s.Freeze(t, o), nil
}

func readDaily(r io.Reader, f Format, o Options) (*Series, error) {
	switch f {
	case FormatDly:
		return ReadDly(r, o)
	case FormatByStation:
		return ReadByStation(r, o)
	}
	return ReadSummaries(r, o)
}
