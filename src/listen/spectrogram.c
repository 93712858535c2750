#include "listen/spectrogram.h"

#include <math.h>

#include <kiss_fftr.h>

#include "mem.h"

#define WINDOW_S 0.064
#define WINDOW_MOST 8192
#define COLUMNS_MOST 4096
#define ROWS_LEAST 16
#define ROWS_MOST 512

static size_t within(size_t value, size_t low, size_t high)
{
    return value < low ? low : value > high ? high : value;
}

/* An even number of samples with only small factors, about WINDOW_S long. */
static size_t window_of(int rate_hz)
{
    int wanted = (int)(WINDOW_S * rate_hz);
    return within((size_t)(2 * kiss_fft_next_fast_size((wanted + 1) / 2)), 64, WINDOW_MOST);
}

/* One column: power per row, the largest of the lines that fall in it. */
static void column_power(const struct pcm *p, kiss_fftr_cfg fft, size_t window, size_t start, double row_hz,
                         size_t rows, float *out)
{
    float in[WINDOW_MOST];
    kiss_fft_cpx lines[WINDOW_MOST / 2 + 1];
    for (size_t i = 0; i < window; i++) {
        float w = (float)(0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)window));
        in[i] = start + i < p->frames ? p->at[start + i] * w : 0;
    }
    kiss_fftr(fft, in, lines);
    double line_hz = (double)p->rate_hz / (double)window;
    for (size_t r = 0; r < rows; r++) {
        size_t low = (size_t)((double)r * row_hz / line_hz), high = (size_t)((double)(r + 1) * row_hz / line_hz);
        float most = 0;
        for (size_t k = low; (k == low || k < high) && k <= window / 2; k++) {
            float power = lines[k].r * lines[k].r + lines[k].i * lines[k].i;
            most = power > most ? power : most;
        }
        out[r] = most;
    }
}

static void to_db(struct spectrogram *s)
{
    size_t cells = s->columns * s->rows;
    float most = 0;
    for (size_t i = 0; i < cells; i++)
        most = s->db[i] > most ? s->db[i] : most;
    for (size_t i = 0; i < cells; i++) {
        float db = s->db[i] > 0 && most > 0 ? 10 * log10f(s->db[i] / most) : s->floor_db;
        s->db[i] = db > s->floor_db ? db : s->floor_db;
    }
}

void spectrogram_of(struct spectrogram *s, const struct pcm *p, size_t columns, size_t rows, double high_hz,
                    float floor_db)
{
    spectrogram_release(s);
    if (p->frames == 0 || p->rate_hz <= 0)
        return;
    size_t window = window_of(p->rate_hz), most = p->frames / window + 1;
    s->columns = within(columns, 1, most < COLUMNS_MOST ? most : COLUMNS_MOST);
    s->rows = within(rows, ROWS_LEAST, ROWS_MOST);
    double nyquist = p->rate_hz / 2.0;
    s->row_hz = (high_hz > 0 && high_hz < nyquist ? high_hz : nyquist) / (double)s->rows;
    s->column_s = (double)p->frames / p->rate_hz / (double)s->columns;
    s->floor_db = floor_db < -1 ? floor_db : -1;
    s->db = mem_alloc(s->columns * s->rows * sizeof *s->db);
    kiss_fftr_cfg fft = kiss_fftr_alloc((int)window, 0, NULL, NULL);
    for (size_t c = 0; c < s->columns; c++)
        column_power(p, fft, window, c * p->frames / s->columns, s->row_hz, s->rows, s->db + c * s->rows);
    kiss_fftr_free(fft);
    to_db(s);
}

void spectrogram_release(struct spectrogram *s)
{
    mem_free(s->db);
    *s = (struct spectrogram){0};
}
