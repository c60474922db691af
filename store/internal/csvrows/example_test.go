package csvrows_test

import (
	"fmt"
	"strings"

	"bellbuoy/store/internal/csvrows"
)

func Example() {
	r := csvrows.New(strings.NewReader("B1;\"two\r\nlines\"\r\nB2; 5\" hose\n"), csvrows.Options{Delimiter: ';'})
	for {
		cells, line, err := r.Next()
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%d: %q\n", line, cells)
	}
	// Output:
	// 1: ["B1" "two\nlines"]
	// 3: ["B2" " 5\" hose"]
	// EOF
}
