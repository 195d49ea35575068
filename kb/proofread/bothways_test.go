package proofread

import (
	"fmt"
	"strings"
	"testing"
)

// TestManyOpposed: of the rules that pull against one, the first few are told one by one, and how many more there are
// is told with the last of these. A pair that a sheet accepts is told all the same, as it is hidden, and takes no
// place.
func TestManyOpposed(t *testing.T) {
	const against = 12
	var b strings.Builder
	b.WriteString("format: 1\nrules:\n")
	rule := func(id, effect, accepts string) {
		fmt.Fprintf(&b, "  - rule: %s\n    says: Invented.\n    source: invented\n    if: quantity_0 > 1.5\n    %s: "+
			"{materials: [material-0], ratio: 3}\n%s", id, effect, accepts)
	}
	rule("a-for", "supports", "")
	for i := range against {
		accepts := ""
		if i == 8 {
			accepts = "    accepts: [{finding: pulls-both-ways, with: a-for, because: It is invented., until: " +
				"2099-01-01}]\n"
		}
		rule(fmt.Sprintf("b-%02d", i), "weakens", accepts)
	}
	told, hidden, more := 0, 0, 0
	for _, f := range report(t, nasty(t, b.String())).Findings {
		if f.Code != pullsBothWays {
			continue
		}
		if f.Accepted != nil {
			hidden++
		} else {
			told++
		}
		if strings.Contains(f.Detail, fmt.Sprintf(`%d more rules pull against "a-for"`, against-1-mostOpposed)) {
			more++
		}
	}
	if told != mostOpposed || hidden != 1 || more != 1 {
		t.Errorf("%d told one by one, %d hidden, %d tell how many more there are; want %d, 1, 1", told, hidden, more,
			mostOpposed)
	}
}
