package compression_test

import (
	"fmt"

	"bellbuoy/schedule/compression"
)

// Three cylinders are alike and the fourth is a quarter lower.
func Example() {
	psi, _ := compression.Parse("150, 148, 152, 113")
	v := compression.Judge(psi, compression.Rules()[0])
	fmt.Println(v.Grade == compression.Act, v.LowestAt, v.Difference)
	// Output: true 4 39
}
