#include "paper/spectrogram_picture.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "paper/strips.h"

#define STRIP_HEIGHT 180.0 /* with tags above and seconds below */
#define PLOT_HEIGHT  130.0
#define LETTERS      11.0
#define SPAN_DB      60.0
#define GREYS        24 /* so many are told apart at most; fewer make smaller pictures */
#define TICK_HZ      1000.0

double paper_spectrogram_step(double total_s)
{
    return strips_length(total_s) / STRIP_WIDTH;
}

static double loudest(const struct paper_spectrogram *spectrogram)
{
    float most = 0.0F;
    for (size_t i = 0; i < (size_t)spectrogram->n_columns * (size_t)spectrogram->stride; i++)
        most = spectrogram->power[i] > most ? spectrogram->power[i] : most;
    return (double)most;
}

/* 0 black for the loudest to 255 white. */
static uint32_t grey_of(double power, double most)
{
    double down_db = power > 0.0 && most > 0.0 ? 10.0 * log10(most / power) : SPAN_DB;
    double share = fmin(fmax(down_db / SPAN_DB, 0.0), 1.0);
    return (uint32_t)lround(round(share * (GREYS - 1)) * 255.0 / (GREYS - 1));
}

/* The image of a strip, one pixel for each column of the picture and each row of the spectrogram. */
static cairo_surface_t *image_of(const struct strip *strip, const struct paper_spectrogram *spectrogram,
                                 double most)
{
    int width = (int)STRIP_WIDTH, height = spectrogram->n_rows;
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    if (cairo_surface_status(image) != CAIRO_STATUS_SUCCESS)
        return image;
    unsigned char *data = cairo_image_surface_get_data(image);
    size_t stride = (size_t)cairo_image_surface_get_stride(image);
    for (int x = 0; x < width; x++) {
        double s = strip->from_s + strip->length_s * (x + 0.5) / width;
        long column = lround((s - spectrogram->first_s) / spectrogram->step_s);
        bool there = column >= 0 && column < spectrogram->n_columns;
        const float *power = spectrogram->power + (there ? column : 0) * spectrogram->stride;
        for (int y = 0; y < height; y++) {
            uint32_t grey = there ? grey_of((double)power[height - 1 - y], most) : 255;
            *(uint32_t *)(void *)(data + (size_t)y * stride + (size_t)x * 4) = grey << 16 | grey << 8 | grey;
        }
    }
    cairo_surface_mark_dirty(image);
    return image;
}

static void put_image(cairo_t *cairo, const struct strip *strip, const struct paper_spectrogram *spectrogram,
                      double most)
{
    cairo_surface_t *image = image_of(strip, spectrogram, most);
    cairo_save(cairo);
    cairo_translate(cairo, STRIP_X, strip->y);
    cairo_scale(cairo, 1.0, strip->height / spectrogram->n_rows);
    cairo_set_source_surface(cairo, image, 0.0, 0.0);
    cairo_paint(cairo);
    cairo_restore(cairo);
    cairo_surface_destroy(image);
}

static void put_frequencies(cairo_t *cairo, const struct strip *strip,
                            const struct paper_spectrogram *spectrogram)
{
    double top_hz = spectrogram->n_rows * spectrogram->row_hz;
    char text[32];
    for (double hz = 0.0; hz <= top_hz; hz += TICK_HZ) {
        double y = strip->y + strip->height * (1.0 - hz / top_hz);
        snprintf(text, sizeof text, "%.0f Hz", hz);
        pen_line(cairo, STRIP_X - 4.0, y, STRIP_X, y, false);
        pen_write(cairo, STRIP_X - 6.0, y - 8.0, text,
                  (struct pen_words){.size = LETTERS, .side = PEN_RIGHT});
    }
    pen_line(cairo, STRIP_X, strip->y + strip->height, STRIP_X + STRIP_WIDTH, strip->y + strip->height,
             false);
}

static double draw(cairo_t *cairo, const void *what)
{
    const struct paper_spectrogram *spectrogram = what;
    double most = loudest(spectrogram), y = STRIP_MARGIN + strips_title(cairo, spectrogram->title);
    struct strip strip = {.length_s = strips_length(spectrogram->total_s), .height = PLOT_HEIGHT};
    for (; strip.from_s < spectrogram->total_s; strip.from_s += strip.length_s, y += STRIP_HEIGHT) {
        strip.y = y + STRIP_ABOVE;
        put_image(cairo, &strip, spectrogram, most);
        put_frequencies(cairo, &strip, spectrogram);
        strip_put_time(cairo, &strip, &spectrogram->time);
    }
    return y + STRIP_MARGIN;
}

enum thrum_status paper_spectrogram_picture(const struct paper_spectrogram *spectrogram,
                                            struct paper_text *svg)
{
    return pen_document(STRIPS_WIDTH, draw, spectrogram, svg);
}
