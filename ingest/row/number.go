package row

import (
	"bytes"
	"strconv"
)

// pow10 holds the powers of ten that a float64 represents exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Number reads a decimal number with spaces around it, equal to the last bit to
// strconv.ParseFloat; words such as NaN and hexadecimal are no numbers.
func Number(b []byte) (float64, bool) {
	// Up to 15 digits are exact as an integer, and one division by an exact
	// power of ten rounds once: the correctly rounded result. The rest is left
	// to strconv.
	i, n := 0, len(b)
	for i < n && b[i] == ' ' {
		i++
	}
	for n > i && b[n-1] == ' ' {
		n--
	}
	start, neg := i, false
	if i < n && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	var m uint64
	digits, point := 0, -1
	for ; i < n; i++ {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			if m == 0 && c == '0' && point < 0 {
				digits |= seenDigit
				continue
			}
			m = m*10 + uint64(c-'0')
			digits++
		case c == '.' && point < 0:
			point = i
		default:
			return slowNumber(b[start:n])
		}
		if digits&^seenDigit > 15 {
			return slowNumber(b[start:n])
		}
	}
	if digits == 0 {
		return 0, false
	}
	v := float64(m)
	if point >= 0 {
		decimals := n - point - 1
		if decimals >= len(pow10) {
			return slowNumber(b[start:n])
		}
		v /= pow10[decimals]
	}
	if neg {
		v = -v
	}
	return v, true
}

// seenDigit marks in a digit count that leading zeros were skipped.
const seenDigit = 1 << 16

func slowNumber(b []byte) (float64, bool) {
	b = bytes.TrimSpace(b)
	for _, c := range b {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, err == nil
}

// Whole reads a whole number of at most nine digits with spaces around it.
func Whole(b []byte) (int, bool) {
	n, ok := digits(b)
	if !ok {
		n, ok = digits(bytes.TrimSpace(b))
	}
	return n, ok
}

func digits(b []byte) (n int, ok bool) {
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}
