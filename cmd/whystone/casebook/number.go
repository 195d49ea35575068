package casebook

import (
	"fmt"
	"strconv"
	"strings"
)

// letters are the check letters, by value: eleven that neither look nor sound like one another, or like a digit. Left
// out are B, G, I, O, Q, S and Z, which are read as digits; C, D, E, P and V, which sound like T; J and K, which sound
// like A; and N, which sounds like M.
const letters = "AFHLMRTUWXY"

// Number is a case's: the year, a running number within it, and a check letter, as in 2031-42-K. The letter catches
// every slip of one digit and every swap of two (ISO/IEC 7064, MOD 11-2).
func Number(year, running int) string {
	digits := strconv.Itoa(year) + strconv.Itoa(running)
	return fmt.Sprintf("%d-%d-%c", year, running, letters[check(digits)])
}

// check is the check value of digits.
func check(digits string) int {
	p := 0
	for _, d := range digits {
		p = (p + int(d-'0')) * 2 % 11
	}
	return (12 - p) % 11
}

// ParseNumber reads a number as it is said or typed: hyphens may be blanks or left out around the letter, and the
// letter small. ok is false when it has not the form of a number; err says that it has the form, and the letter does
// not fit.
func ParseNumber(text string) (number string, ok bool, err error) {
	parts := strings.FieldsFunc(strings.ToUpper(text), func(r rune) bool { return r == '-' || r == ' ' })
	if len(parts) == 2 { // the letter written close
		last := parts[1]
		parts = []string{parts[0], last[:len(last)-1], last[len(last)-1:]}
	}
	if len(parts) != 3 || len(parts[0]) != 4 || len(parts[2]) != 1 || parts[2][0] < 'A' || parts[2][0] > 'Z' {
		return "", false, nil
	}
	year, e1 := strconv.Atoi(parts[0])
	running, e2 := strconv.Atoi(parts[1])
	if e1 != nil || e2 != nil || year < 1000 || running < 1 || strconv.Itoa(running) != parts[1] || len(parts[1]) > 9 {
		return "", false, nil
	}
	number = Number(year, running)
	if number[len(number)-1] != parts[2][0] {
		return "", true, fmt.Errorf("%q is no case's number: its letter does not fit its digits, so one of them is "+
			"mistaken", text)
	}
	return number, true, nil
}

// split takes a number apart.
func split(number string) (year, running int) {
	parts := strings.Split(number, "-")
	if len(parts) != 3 {
		return 0, 0
	}
	year, _ = strconv.Atoi(parts[0])    // a number of ours
	running, _ = strconv.Atoi(parts[1]) // likewise
	return year, running
}
