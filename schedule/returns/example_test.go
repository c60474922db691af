package returns_test

import (
	"fmt"

	"bellbuoy/schedule/returns"
)

// A group comes six times in ten, a belief worth four seasons. A boat that came in all of
// its two seasons is believed to come more often, but not always.
func Example() {
	group := returns.Prior(0.6, 4)
	boat := group.With(returns.Trial{Came: 2, Of: 2})
	fmt.Printf("%.2f %.2f\n", group.Mean(), boat.Mean())
	// Output: 0.60 0.73
}
