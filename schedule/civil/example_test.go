package civil_test

import (
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
)

// A month after the end of January is the end of February, and a shop week is named by
// its Monday.
func Example() {
	d := civil.Of(2027, time.January, 31)
	fmt.Println(d.AddMonths(1), d.Week(), d.Week().Monday())
	// Output: 2027-02-28 2027-W04 2027-01-25
}
