package sheet

import (
	"fmt"
	"os"
	"slices"
)

// OpenFiles opens files by their paths; each is named without its folder, which may be one of
// ours. The function closes them.
func OpenFiles(paths []string, o Options) (books []*Book, closeAll func(), err error) {
	var opened []func() error
	closeAll = func() {
		for _, c := range slices.Backward(opened) {
			c() // only read
		}
	}
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			closeAll()
			return nil, nil, err
		}
		opened = append(opened, f.Close)
		info, err := f.Stat()
		if err == nil && info.IsDir() {
			err = fmt.Errorf("%s is a folder; name its files", path)
		}
		var b *Book
		if err == nil {
			b, err = Open(base(path), f, info.Size(), o)
		}
		if err != nil {
			closeAll()
			return nil, nil, err
		}
		books, opened = append(books, b), append(opened, b.Close)
	}
	return books, closeAll, nil
}
