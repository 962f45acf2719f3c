#include "pixels.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "check.h"

bool pixels_can(void)
{
    return system("rsvg-convert --version >/dev/null 2>&1") == 0;
}

struct pixels pixels_of(struct paper_text *svg)
{
    char svg_path[] = "/tmp/thrum-picture-XXXXXX", command[200], png_path[80];
    int fd = mkstemp(svg_path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, svg->bytes, svg->size), (ssize_t)svg->size);
    close(fd);
    paper_text_free(svg);
    snprintf(png_path, sizeof png_path, "%s.png", svg_path);
    snprintf(command, sizeof command, "rsvg-convert --dpi-x 96 --dpi-y 96 -o %s %s", png_path, svg_path);
    assert_int_equal(system(command), 0);
    struct pixels pixels = {.surface = cairo_image_surface_create_from_png(png_path)};
    assert_int_equal(cairo_surface_status(pixels.surface), CAIRO_STATUS_SUCCESS);
    pixels.width = cairo_image_surface_get_width(pixels.surface);
    pixels.height = cairo_image_surface_get_height(pixels.surface);
    unlink(svg_path);
    unlink(png_path);
    return pixels;
}

void pixels_destroy(struct pixels *pixels)
{
    cairo_surface_destroy(pixels->surface);
}

static const unsigned char *pixel(const struct pixels *pixels, int x, int y)
{
    const unsigned char *data = cairo_image_surface_get_data(pixels->surface);
    return data + (size_t)y * (size_t)cairo_image_surface_get_stride(pixels->surface) + (size_t)x * 4;
}

int pixels_grey(const struct pixels *pixels, int x, int y)
{
    return pixel(pixels, x, y)[1];
}

double pixels_darkness(const struct pixels *pixels, int y, double from_x, double to_x)
{
    double sum = 0.0;
    int n = 0;
    for (int x = (int)from_x; x < (int)to_x; x++, n++)
        sum += 1.0 - pixels_grey(pixels, x, y) / 255.0;
    return sum / n;
}

void assert_grey_and_whole(const struct pixels *pixels)
{
    for (int y = 0; y < pixels->height; y++)
        for (int x = 0; x < pixels->width; x++) {
            const unsigned char *p = pixel(pixels, x, y);
            assert_true(p[0] == p[1] && p[1] == p[2]);
            if (x >= pixels->width - 4 || y >= pixels->height - 4 || y < 4 || x < 4)
                assert_true(p[1] > 200);
        }
}
