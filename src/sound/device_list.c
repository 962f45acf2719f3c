#include "sound/device_list.h"

#include <dirent.h>
#include <math.h>
#include <portaudio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "sound/message.h"

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool same(const char *a, const char *b)
{
    while (*a && lower(*a) == lower(*b)) {
        a++;
        b++;
    }
    return lower(*a) == lower(*b);
}

static bool holds(const char *text, const char *part)
{
    for (; *text; text++) {
        size_t i = 0;
        while (part[i] && lower(text[i]) == lower(part[i]))
            i++;
        if (!part[i])
            return true;
    }
    return !*part;
}

static bool holds_one_of(const char *text, const char *const *parts, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (holds(text, parts[i]))
            return true;
    return false;
}

static bool is_monitor(const char *name)
{
    static const char *const words[] = {"monitor of ", ".monitor", "stereo mix", "what u hear"};
    return holds_one_of(name, words, sizeof words / sizeof words[0]);
}

static bool is_bluetooth(const char *name)
{
    static const char *const words[] = {"bluetooth", "bluez", "hands-free", "handsfree"};
    return holds_one_of(name, words, sizeof words / sizeof words[0]);
}

/* The device's own words, without the host API in front. */
static const char *bare(const struct thrum_input *info)
{
    const char *colon = strstr(info->name, ": ");
    return colon ? colon + 2 : info->name;
}

static void fill(struct device_list *list, const PaDeviceInfo *info, int device)
{
    struct device_entry *e = &list->entry[list->n];
    const PaHostApiInfo *api = Pa_GetHostApiInfo(info->hostApi);
    const char *api_name = api && api->name ? api->name : "?";
    const char *name = info->name ? info->name : "?";
    int ordinal = 1;
    e->device = device;
    text_set(e->info.name, sizeof e->info.name, 0, "%s: %s", api_name, name);
    for (int i = 0; i < list->n; i++) {
        const char *other = list->entry[i].info.name;
        size_t length = strlen(e->info.name);
        ordinal += strncmp(other, e->info.name, length) == 0 &&
                           (other[length] == '\0' || strncmp(other + length, " #", 2) == 0)
                       ? 1
                       : 0;
    }
    if (ordinal > 1) {
        size_t used = strlen(e->info.name);
        used = used < sizeof e->info.name - 8 ? used : sizeof e->info.name - 8;
        text_set(e->info.name + used, sizeof e->info.name - used, 0, " #%d", ordinal);
    }
    e->info.channels = list->plays ? info->maxOutputChannels : info->maxInputChannels;
    double rate = info->defaultSampleRate;
    e->info.rate_hz = isfinite(rate) && rate >= 8000.0 && rate <= 192000.0 ? rate : 0.0;
    e->info.monitor = is_monitor(name);
    e->info.bluetooth = is_bluetooth(name);
    list->n++;
}

/* The default, or the only one: a tone goes nowhere unasked. */
static int choose_output(const struct device_list *list)
{
    int preferred = Pa_GetDefaultOutputDevice();
    for (int i = 0; i < list->n; i++)
        if (list->entry[i].device == preferred)
            return i;
    return list->n == 1 ? 0 : -1;
}

/* The default if it is a wired input; else the first wired one; else a Bluetooth one. Never a monitor. */
static int choose_input(const struct device_list *list)
{
    int preferred = Pa_GetDefaultInputDevice();
    int best = -1;
    int best_rank = 0;
    for (int i = 0; i < list->n; i++) {
        const struct device_entry *e = &list->entry[i];
        int rank = e->info.monitor ? 0 : (e->info.bluetooth ? 1 : 3) + (e->device == preferred ? 1 : 0);
        if (rank > best_rank) {
            best = i;
            best_rank = rank;
        }
    }
    return best;
}

enum thrum_status device_list_make(struct device_list *list, bool plays)
{
    int count = Pa_GetDeviceCount();
    memset(list, 0, sizeof *list);
    list->chosen = -1;
    list->plays = plays;
    if (count <= 0)
        return THRUM_OK;
    list->entry = calloc((size_t)count, sizeof *list->entry);
    if (!list->entry)
        return THRUM_ERR_MEM;
    for (int i = 0; i < count; i++) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
        if (info && (plays ? info->maxOutputChannels : info->maxInputChannels) > 0)
            fill(list, info, i);
    }
    list->chosen = plays ? choose_output(list) : choose_input(list);
    if (list->chosen >= 0)
        list->entry[list->chosen].info.is_default = true;
    return THRUM_OK;
}

void device_list_free(struct device_list *list)
{
    free(list->entry);
    memset(list, 0, sizeof *list);
    list->chosen = -1;
}

int device_list_exact(const struct device_list *list, const char *name)
{
    for (int i = 0; i < list->n; i++)
        if (strcmp(list->entry[i].info.name, name) == 0)
            return i;
    return -1;
}

bool device_list_refused(const char *path_of_devices)
{
    DIR *folder = opendir(path_of_devices);
    bool refused = false;
    const struct dirent *entry;
    while (folder && !refused && (entry = readdir(folder)) != NULL) {
        char path[600];
        size_t length = strlen(entry->d_name);
        snprintf(path, sizeof path, "%.300s/%.200s", path_of_devices, entry->d_name);
        refused = strncmp(entry->d_name, "pcm", 3) == 0 && length > 0 && entry->d_name[length - 1] == 'c' &&
                  access(path, R_OK) != 0;
    }
    if (folder)
        closedir(folder);
    return refused;
}

static enum thrum_status none_at_all(const struct device_list *list, struct thrum_message *message)
{
    if (list->plays) {
        message_set(message, "no sound output found: plug headphones or a loudspeaker in, and close programs "
                             "that hold it");
    } else if (list->n > 0) {
        message_set(message, "no sound input found: there are only monitors of loudspeakers (thrum inputs "
                             "lists them); plug the "
                             "probe in, or name one to use it all the same");
    } else if (device_list_refused("/dev/snd")) {
        message_set(message, "no sound input found: no permission to open it; run: sudo usermod -aG audio "
                             "$USER, then log in again");
    } else {
        message_set(message, "no sound input found: plug the probe in, close programs that hold it, and look "
                             "with: thrum inputs");
    }
    return THRUM_ERR_DEVICE;
}

static const char *what(const struct device_list *list)
{
    return list->plays ? "output" : "input";
}

/* Those that hold the part, quoted. */
static void names_of(const struct device_list *list, const char *part, char *names, size_t size)
{
    names[0] = '\0';
    for (int i = 0; i < list->n; i++)
        if (holds(list->entry[i].info.name, part))
            text_set(names, size, 1, "'%s'", list->entry[i].info.name);
}

static enum thrum_status list_several(const struct device_list *list, const char *name,
                                      struct thrum_message *message)
{
    char names[400];
    names_of(list, name, names, sizeof names);
    message_set(message, "several %ss fit '%.60s': %s; give more of the name", what(list), name, names);
    return THRUM_ERR_ARG;
}

static enum thrum_status nothing_chosen(const struct device_list *list, struct thrum_message *message)
{
    char names[400];
    if (!list->plays || list->n == 0)
        return none_at_all(list, message);
    names_of(list, "", names, sizeof names);
    message_set(message, "which sound output? There are: %s; name one", names);
    return THRUM_ERR_ARG;
}

static enum thrum_status nothing_fits(const struct device_list *list, const char *name,
                                      struct thrum_message *message)
{
    char names[400];
    if (list->n == 0)
        return none_at_all(list, message);
    names_of(list, "", names, sizeof names);
    if (list->plays) {
        message_set(message, "no sound output fits '%.60s'; there are: %s", name, names);
    } else {
        message_set(message,
                    "no sound input fits '%.100s'; it may be unplugged or in use by another program: see "
                    "thrum inputs, or try 'default'",
                    name);
    }
    return THRUM_ERR_DEVICE;
}

/* The device's own words, whatever its number among equals. */
static bool is_called(const struct thrum_input *info, const char *name)
{
    const char *own = bare(info);
    size_t i = 0;
    while (own[i] && name[i] && lower(own[i]) == lower(name[i]))
        i++;
    return name[i] == '\0' && (own[i] == '\0' || strncmp(own + i, " #", 2) == 0);
}

/* The number of inputs that fit; *found is the last of them. how: 0 whole stable name, 1 whole device name, 2 a part. */
static int fitting(const struct device_list *list, const char *name, int how, int *found)
{
    int n = 0;
    for (int i = 0; i < list->n; i++) {
        const struct thrum_input *info = &list->entry[i].info;
        if (how == 0 ? same(info->name, name) : how == 1 ? is_called(info, name) : holds(info->name, name)) {
            *found = i;
            n++;
        }
    }
    return n;
}

enum thrum_status device_list_find(const struct device_list *list, const char *name, int *found,
                                   struct thrum_message *message)
{
    *found = list->chosen;
    if (!name || !name[0])
        return list->chosen >= 0 ? THRUM_OK : nothing_chosen(list, message);
    for (int how = 0; how < 3; how++) {
        int n = fitting(list, name, how, found);
        if (n == 1)
            return THRUM_OK;
        if (n > 1)
            return list_several(list, name, message);
    }
    if (same(name, "default")) {
        *found = list->chosen;
        return list->chosen >= 0 ? THRUM_OK : nothing_chosen(list, message);
    }
    return nothing_fits(list, name, message);
}
