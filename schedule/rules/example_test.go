package rules_test

import (
	"fmt"

	"bellbuoy/schedule/rules"
)

// A shop changes one price of the catalog in a file of its own.
func Example() {
	base, _ := rules.Default()
	own, _ := rules.Parse("own.toml", []byte("[[change]]\nrule = \"fit-out-outboard\"\nprice = 199.00\n"))
	r, _ := base.Extend(own).Rule("fit-out-outboard")
	fmt.Println(r.Title, r.Price)
	// Output: Spring commissioning, outboard 199.00
}
