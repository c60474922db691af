package measure_test

import (
	"fmt"

	"bellbuoy/schedule/measure"
)

// Meters show one decimal and bills two; neither is kept as a fraction.
func Example() {
	hours, _ := measure.ParseHours("188.5")
	paid, _ := measure.ParseCents("129.50")
	fmt.Println(hours, int(hours), paid, int64(paid))
	// Output: 188.5 1885 129.50 12950
}
