/*
 * The kernel once more with AVX2 intrinsics, written to be fast: what the
 * generated assembly is measured against (BenchmarkYear) and, bit for bit,
 * checked against. Lanes come in eights.
 *
 *	gcc -O3 -march=native -ffp-contract=off -o twin twin.c
 *	./twin problem result years
 *
 * prints the processor time of a year in ns and writes the heat of all outlets
 * and lanes.
 */
#include <immintrin.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { LEAVE = 1, RETURN = 2, REFILL = 4, SAMPLES = 8 };

typedef struct {
	int32_t row[SAMPLES];
	float weight[SAMPLES];
	int32_t n;
	float sky, ground;
	uint32_t event;
} hour;

typedef struct {
	float base, inv_u, u, wet_hour, wet_time, dry_hour, dry_time;
} line;

typedef struct {
	float in, out, run, dry, wet;
	uint32_t start_dry;
	float first;
} regime;

typedef struct {
	float *t, *store, *heat;
	uint8_t *is_out;
	int out;
} bank;

typedef __m256 v;
typedef __m256i vi;

#define ALL(x) _mm256_set1_ps(x)
#define ADD _mm256_add_ps
#define SUB _mm256_sub_ps
#define MUL _mm256_mul_ps
#define DIV _mm256_div_ps
#define AND _mm256_and_ps
#define OR _mm256_or_ps
#define WITHOUT(a, b) _mm256_andnot_ps(b, a)
#define LOAD _mm256_loadu_ps
#define STORE _mm256_storeu_ps
#define CHOOSE(mask, yes, no) _mm256_blendv_ps(no, yes, mask)
#define ANY(mask) _mm256_movemask_ps(mask)

static const float tiny = 1e-9f;

/* ln(a/b) = *num / *den, where diff is a - b. */
static inline void log_ratio(v diff, v a, v b, v *num, v *den)
{
	vi bb = _mm256_castps_si256(b), k = _mm256_sub_epi32(_mm256_castps_si256(a), bb);
	k = _mm256_and_si256(_mm256_add_epi32(k, _mm256_set1_epi32(1 << 22)), _mm256_set1_epi32(-(1 << 23)));
	v scaled = _mm256_castsi256_ps(_mm256_add_epi32(bb, k));
	v n = ADD(diff, SUB(b, scaled)), m = ADD(a, scaled), nn = MUL(n, n), mm = MUL(m, m);
	*den = MUL(m, ADD(mm, MUL(ALL(-0.60389279f), nn)));
	v part = MUL(ADD(n, n), ADD(mm, MUL(ALL(-0.27057586f), nn)));
	*num = ADD(part, MUL(MUL(_mm256_cvtepi32_ps(k), ALL((float)(M_LN2 / (1 << 23)))), *den));
}

static inline v exp_neg(v x)
{
	v minus = _mm256_xor_ps(x, ALL(-0.0f)), w = MUL(minus, ALL((float)M_LOG2E));
	v n = _mm256_round_ps(w, _MM_FROUND_TO_ZERO | _MM_FROUND_NO_EXC);
	n = SUB(n, AND(_mm256_cmp_ps(SUB(w, n), ALL(-0.5f), _CMP_LE_OQ), ALL(1)));
	v r = ADD(SUB(minus, MUL(n, ALL(0.693359375f))), MUL(n, ALL(2.12194440e-4f)));
	v p = ALL((float)(1.0 / 720));
	p = ADD(MUL(p, r), ALL((float)(1.0 / 120)));
	p = ADD(MUL(p, r), ALL((float)(1.0 / 24)));
	p = ADD(MUL(p, r), ALL((float)(1.0 / 6)));
	p = ADD(MUL(p, r), ALL(0.5f));
	p = ADD(MUL(p, r), ALL(1));
	p = ADD(MUL(p, r), ALL(1));
	vi power = _mm256_slli_epi32(_mm256_add_epi32(_mm256_cvttps_epi32(n), _mm256_set1_epi32(127)), 23);
	return AND(_mm256_cmp_ps(x, ALL(87), _CMP_LT_OQ), MUL(p, _mm256_castsi256_ps(power)));
}

static inline v plug(const regime *r, const line *l, v flow, v d, v gap, v part, v *end)
{
	float span = r->out - r->in;
	v num, den;
	if (span > 0) {
		log_ratio(ALL(span), ADD(d, ALL(span)), d, &num, &den);
		d = DIV(MUL(ALL(span), den), num);
	}
	v above = _mm256_cmp_ps(gap, d, _CMP_LE_OQ);
	v within = AND(flow, WITHOUT(_mm256_cmp_ps(*end, d, _CMP_LE_OQ), above));
	above = AND(flow, above);
	v loss = MUL(ALL(l->u), d);
	v heat = AND(above, ADD(MUL(ALL(r->wet), SUB(d, gap)), MUL(loss, part)));
	if (ANY(within)) {
		log_ratio(SUB(gap, d), gap, d, &num, &den);
		v left = SUB(part, MUL(ALL(l->wet_time), DIV(num, den)));
		heat = CHOOSE(within, MUL(loss, _mm256_max_ps(left, _mm256_setzero_ps())), heat);
	}
	*end = CHOOSE(OR(above, within), d, *end);
	return heat;
}

static void flow(bank *b, const float *s, int n, const regime *r, const line *l)
{
	v base = ALL(l->base), inv_u = ALL(l->inv_u), decay = ALL(l->wet_hour), out = ALL(r->out);
	for (int i = 0; i < n; i += 8) {
		v ts = ADD(base, MUL(LOAD(s + i), inv_u));
		v gap = SUB(ts, LOAD(b->t + i)), end = MUL(gap, decay), d = SUB(ts, out);
		v f = _mm256_cmp_ps(d, ALL(tiny), _CMP_GT_OQ);
		if (ANY(f)) {
			v q = plug(r, l, f, d, gap, ALL(1), &end), h = LOAD(b->heat + i);
			STORE(b->heat + i, CHOOSE(f, ADD(h, q), h));
		}
		STORE(b->t + i, SUB(ts, end));
	}
}

static void dry(bank *b, const float *s, int n, const line *l)
{
	v base = ALL(l->base), inv_u = ALL(l->inv_u), decay = ALL(l->dry_hour);
	for (int i = 0; i < n; i += 8) {
		v ts = ADD(base, MUL(LOAD(s + i), inv_u));
		STORE(b->t + i, SUB(ts, MUL(SUB(ts, LOAD(b->t + i)), decay)));
	}
}

static inline v mix(const regime *r, v t, v store)
{
	return DIV(ADD(MUL(ALL(r->dry), t), MUL(ALL(r->wet - r->dry), store)), ALL(r->wet));
}

static inline v flags(const uint8_t *at)
{
	return _mm256_castsi256_ps(_mm256_cmpgt_epi32(_mm256_cvtepu8_epi32(_mm_loadl_epi64((const __m128i *)at)), _mm256_setzero_si256()));
}

static inline void keep_flags(uint8_t *at, v mask)
{
	vi one = _mm256_and_si256(_mm256_castps_si256(mask), _mm256_set1_epi32(1));
	__m128i words = _mm_packs_epi32(_mm256_castsi256_si128(one), _mm256_extracti128_si256(one, 1));
	_mm_storel_epi64((__m128i *)at, _mm_packus_epi16(words, words));
}

static void morning(bank *b, const float *s, int n, const regime *r, int refill, const line *l)
{
	for (int i = 0; i < n; i += 8) {
		v out = flags(b->is_out + i), t = LOAD(b->t + i);
		v ts = ADD(ALL(l->base), MUL(LOAD(s + i), ALL(l->inv_u)));
		v part = ALL(1), decay = ALL(l->wet_hour);
		if (refill && ANY(out)) {
			v store = LOAD(b->store + i), need = _mm256_min_ps(store, ALL(r->run));
			v already = AND(out, _mm256_cmp_ps(t, need, _CMP_GE_OQ));
			v gap = SUB(ts, t), d = SUB(ts, need);
			v never = OR(_mm256_cmp_ps(d, ALL(tiny), _CMP_LE_OQ), _mm256_cmp_ps(MUL(gap, ALL(l->dry_hour)), d, _CMP_GT_OQ));
			v rising = WITHOUT(WITHOUT(out, never), already), coming = OR(already, rising);
			if (ANY(coming)) {
				v num, den;
				log_ratio(SUB(gap, d), gap, d, &num, &den);
				v after = AND(rising, _mm256_min_ps(ALL(1), MUL(ALL(l->dry_time), DIV(num, den))));
				t = CHOOSE(coming, mix(r, CHOOSE(rising, need, t), store), t);
				part = CHOOSE(coming, SUB(part, after), part);
				decay = CHOOSE(coming, exp_neg(DIV(part, ALL(l->wet_time))), decay);
				b->out -= __builtin_popcount(ANY(coming));
				out = WITHOUT(out, coming);
				keep_flags(b->is_out + i, out);
			}
		}
		decay = CHOOSE(out, ALL(l->dry_hour), decay);
		v gap = SUB(ts, t), end = MUL(gap, decay), d = SUB(ts, ALL(r->out));
		v f = WITHOUT(_mm256_cmp_ps(d, ALL(tiny), _CMP_GT_OQ), out);
		if (ANY(f)) {
			v q = plug(r, l, f, d, gap, part, &end), h = LOAD(b->heat + i);
			STORE(b->heat + i, CHOOSE(f, ADD(h, q), h));
		}
		STORE(b->t + i, SUB(ts, end));
	}
}

static void advance(bank *b, const float *s, int n, const regime *r, const hour *h, const line *l)
{
	if (h->event & LEAVE && b->out < n) {
		for (int i = 0; i < n; i++)
			if (!b->is_out[i])
				b->is_out[i] = 1, b->store[i] = b->t[i];
		b->out = n;
	}
	if (h->event & RETURN && b->out > 0) {
		for (int i = 0; i < n; i++)
			if (b->is_out[i])
				b->t[i] = (r->dry * b->t[i] + (r->wet - r->dry) * b->store[i]) / r->wet, b->is_out[i] = 0;
		b->out = 0;
	}
	int refill = (h->event & REFILL) != 0;
	if (b->out == 0)
		flow(b, s, n, r, l);
	else if (!refill && b->out == n)
		dry(b, s, n, l);
	else
		morning(b, s, n, r, refill, l);
}

static void light(float *restrict s, int n, const float *sky, const float *ground, const float *beam, const hour *h)
{
	v a = ALL(h->sky), g = ALL(h->ground);
	int i = 0;
	for (; i + 32 <= n; i += 32) {
		v sum[4];
		for (int j = 0; j < 4; j++)
			sum[j] = ADD(MUL(a, LOAD(sky + i + 8 * j)), MUL(g, LOAD(ground + i + 8 * j)));
		for (int k = 0; k < h->n; k++) {
			v w = ALL(h->weight[k]);
			const float *row = beam + (size_t)h->row[k] * n + i;
			for (int j = 0; j < 4; j++)
				sum[j] = ADD(sum[j], MUL(w, LOAD(row + 8 * j)));
		}
		for (int j = 0; j < 4; j++)
			STORE(s + i + 8 * j, sum[j]);
	}
	for (; i < n; i += 8) {
		v sum = ADD(MUL(a, LOAD(sky + i)), MUL(g, LOAD(ground + i)));
		for (int k = 0; k < h->n; k++)
			sum = ADD(sum, MUL(ALL(h->weight[k]), LOAD(beam + (size_t)h->row[k] * n + i)));
		STORE(s + i, sum);
	}
}

static void *get(FILE *f, size_t size, size_t n)
{
	void *p = aligned_alloc(64, (size * n + 63) / 64 * 64);
	if (!p || fread(p, size, n, f) != n) {
		fprintf(stderr, "problem: short\n");
		exit(1);
	}
	return p;
}

int main(int argc, char **argv)
{
	FILE *f = argc == 4 ? fopen(argv[1], "rb") : NULL;
	if (!f) {
		fprintf(stderr, "usage: twin problem result years\n");
		return 2;
	}
	int32_t *size = get(f, 4, 4);
	int n = size[0], rows = size[1], hours = size[2], outlets = size[3], years = atoi(argv[3]);
	float *sky = get(f, 4, n), *ground = get(f, 4, n), *beam = get(f, 4, (size_t)rows * n);
	hour *h = get(f, sizeof *h, hours);
	regime *r = get(f, sizeof *r, outlets);
	line *l = get(f, sizeof *l, (size_t)outlets * hours);
	fclose(f);

	float *s = aligned_alloc(64, 4 * n);
	bank *b = calloc(outlets, sizeof *b);
	for (int o = 0; o < outlets; o++) {
		b[o].t = aligned_alloc(64, 4 * n), b[o].store = aligned_alloc(64, 4 * n), b[o].heat = aligned_alloc(64, 4 * n);
		b[o].is_out = aligned_alloc(64, (n + 63) / 64 * 64);
	}
	struct timespec from, to;
	double ns = 0;
	for (int year = 0; year < years; year++) {
		for (int o = 0; o < outlets; o++) {
			for (int i = 0; i < n; i++)
				b[o].t[i] = r[o].first, b[o].store[i] = r[o].in, b[o].heat[i] = 0, b[o].is_out[i] = r[o].start_dry;
			b[o].out = r[o].start_dry ? n : 0;
		}
		clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &from);
		for (int i = 0; i < hours; i++) {
			light(s, n, sky, ground, beam, h + i);
			for (int o = 0; o < outlets; o++)
				advance(b + o, s, n, r + o, h + i, l + (size_t)o * hours + i);
		}
		clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &to);
		double took = (to.tv_sec - from.tv_sec) * 1e9 + to.tv_nsec - from.tv_nsec;
		if (year == 0 || took < ns)
			ns = took;
	}
	f = fopen(argv[2], "wb");
	for (int o = 0; o < outlets; o++)
		if (!f || fwrite(b[o].heat, 4, n, f) != (size_t)n)
			return 1;
	if (fclose(f))
		return 1;
	printf("%.0f\n", ns);
	return 0;
}
