package hin_test

import (
	"fmt"

	"bellbuoy/schedule/hin"
)

// The number of 33 CFR 181.25: maker, serial number, month and year of certification,
// model year.
func Example() {
	n := hin.Decode("us-abc67890 l495")
	fmt.Println(n.Text, n.Maker, n.Serial)
	fmt.Println(n.Words())
	// Output:
	// ABC67890L495 ABC 67890
	// December 1994, model year 1995
}
